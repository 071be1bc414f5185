/* The facade for callers that have nothing but pointers. */
#include "towerloop/flat.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "text.h"
#include "towerloop/chem.h"
#include "towerloop/towerloop.h"

void tl_flat_nh3_share(const int *n, const double *t_degC, const double *ph, double *share)
{
    for (int i = 0; i < *n; i++)
        share[i] = tl_nh3_fraction(t_degC[i], ph[i]);
}

void tl_flat_o2_saturation(const int *n, const double *t_degC, const double *salinity_g_kg,
                           const double *pressure_atm, double *o2_g_m3)
{
    for (int i = 0; i < *n; i++)
        o2_g_m3[i] = tl_o2_saturation(t_degC[i], salinity_g_kg[i], pressure_atm[i]);
}

void tl_flat_pressure(const int *n, const double *elevation_m, double *pressure_atm)
{
    for (int i = 0; i < *n; i++)
        pressure_atm[i] = tl_pressure_atm(elevation_m[i]);
}

/* --- answers ------------------------------------------------------------------------------------ */

static void answer(char *buffer, int size, const char *text)
{
    if (size < 1)
        return;
    const size_t length = tl_utf8_cut(text, (size_t)size - 1);
    memcpy(buffer, text, length);
    buffer[length] = '\0';
}

/* Every message of the reader if it is to blame, else what the handle says. */
static void answer_fault(const struct tl_loop *loop, int status, char *buffer, int size)
{
    struct tl_text all = {0};
    const bool read = loop && tl_loop_columns(loop) > 0;
    for (size_t i = 0; loop && !read && i < tl_loop_messages(loop); i++)
        if (tl_loop_message(loop, i))
            tl_text_addf(&all, "%s%s", i > 0 ? "\n" : "", tl_loop_message(loop, i));
    if (all.length > 0)
        answer(buffer, size, tl_text_string(&all));
    else if (status)
        answer(buffer, size,
               loop && *tl_loop_fault(loop) ? tl_loop_fault(loop) : tl_status_text(status));
    else
        answer(buffer, size, "");
    tl_text_free(&all);
}

static int read_flat(char **scenario, char **folder, char **set, const int *sets,
                     struct tl_loop **loop)
{
    const size_t n = *sets > 0 ? (size_t)*sets : 0;
    return tl_loop_read_text(scenario[0], strlen(scenario[0]), *folder[0] ? folder[0] : NULL,
                             (const char *const *)set, n, loop);
}

/* Whether the caller's room is what the scenario needs. */
static bool fits(const struct tl_loop *loop, int rows, int columns)
{
    return rows >= 0 && (size_t)rows == tl_loop_rows_planned(loop) && columns >= 0 &&
           (size_t)columns == tl_loop_columns(loop);
}

/* --- a scenario to a table ---------------------------------------------------------------------- */

void tl_flat_size(char **scenario, char **folder, char **set, const int *sets, int *rows,
                  int *columns, int *limits, int *status, char **fault, const int *fault_size)
{
    struct tl_loop *loop = NULL;
    *rows = *columns = *limits = 0;
    *status = read_flat(scenario, folder, set, sets, &loop);
    if (*status == TL_OK) {
        *rows = (int)tl_loop_rows_planned(loop); /* the reader allows some millions */
        *columns = (int)tl_loop_columns(loop);
        *limits = (int)tl_loop_limits();
    }
    answer_fault(loop, *status, fault[0], *fault_size);
    tl_loop_free(loop);
}

void tl_flat_column_names(char **scenario, char **folder, char **set, const int *sets,
                          const int *columns, char **name, int *status, char **fault,
                          const int *fault_size)
{
    struct tl_loop *loop = NULL;
    *status = read_flat(scenario, folder, set, sets, &loop);
    for (int c = 0; c < *columns; c++) {
        const char *known = loop ? tl_loop_column_name(loop, (size_t)c) : NULL;
        answer(name[c], TL_FLAT_TEXT, known ? known : "");
    }
    answer_fault(loop, *status, fault[0], *fault_size);
    tl_loop_free(loop);
}

void tl_flat_limit_names(const int *limits, char **name)
{
    for (int i = 0; i < *limits; i++) {
        const char *known = tl_loop_limit_name((size_t)i);
        answer(name[i], TL_FLAT_TEXT, known ? known : "");
    }
}

static void answer_table(const struct tl_loop *loop, int rows, int columns, double *table)
{
    const size_t have = tl_loop_rows(loop);
    for (int c = 0; c < columns; c++) {
        const double *column = tl_loop_column(loop, (size_t)c);
        for (int r = 0; r < rows; r++)
            *table++ = column && (size_t)r < have ? column[r] : NAN;
    }
}

void tl_flat_run(char **scenario, char **folder, char **set, const int *sets, const int *rows,
                 const int *columns, const int *limits, double *table, double *worst,
                 char **verdict, double *ready_d, double *fish_lost_d, int *status, char **fault,
                 const int *fault_size)
{
    struct tl_loop *loop = NULL;
    struct tl_loop_limit limit;
    const char *said = NULL;

    *ready_d = *fish_lost_d = NAN;
    *status = read_flat(scenario, folder, set, sets, &loop);
    const bool wrong_room = *status == TL_OK && !fits(loop, *rows, *columns);
    if (*status == TL_OK)
        *status = wrong_room ? TL_E_INPUT : tl_loop_run(loop);
    if (loop && !wrong_room && tl_loop_columns(loop) > 0) {
        answer_table(loop, *rows, *columns, table);
        *ready_d = tl_loop_ready_d(loop);
        *fish_lost_d = tl_loop_fish_lost_d(loop);
        said = tl_loop_verdict(loop);
    }
    for (int i = 0; i < *limits; i++) {
        const bool known = said && tl_loop_limit(loop, (size_t)i, &limit) == TL_OK;
        worst[i] = known ? limit.worst : NAN;
    }
    answer(verdict[0], TL_FLAT_TEXT, said ? said : "");
    if (wrong_room)
        answer(fault[0], *fault_size, "rows and columns are not what tl_flat_size() answered");
    else
        answer_fault(loop, *status, fault[0], *fault_size);
    tl_loop_free(loop);
}
