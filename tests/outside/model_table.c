/* The table of parameters in the model's document, written from the list the program itself uses.
 *
 *     model_table           print it
 *     model_table FILE      does FILE hold it, between its two marks? */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "towerloop/params.h"

#define BEGIN "<!-- parameters: written by tests/outside/model_table.c -->\n"
#define END   "<!-- end of parameters -->\n"

static const struct {
    const char *dim, *unit;
} units[] = {
    {"RATE", "1/d"},         {"YIELD_N", "gCOD/gN"},    {"YIELD_COD", "gCOD/gCOD"},
    {"CONC", "g/m3"},        {"CONC_N", "gN/m3"},       {"CONC_COD", "gCOD/m3"},
    {"NUMBER", ""},          {"FRACTION", "share"},     {"FILM", "gCOD/m2"},
    {"ALKALINITY", "eq/m3"}, {"N_CONTENT", "gN/gCOD"},  {"SLOUGH", "1/d per m/h"},
    {"LIGHT", "W/m2"},       {"EXTINCTION", "m2/gCOD"}, {"DIFFUSIVITY", "m2/d"},
    {"PER_LENGTH", "1/m"},   {"KILL", "m3/g/d"},        {"VELOCITY", "m/d"},
    {"SPEED", "m/s"},        {"AIR_SHARE", "ppm"},      {"PER_MASS", "g/g"},
    {"HEAT_LOSS", "W/m2/K"}, {"FISH_RATE", "g/kg/d"},   {"COD_PER_MASS", "gCOD/g"},
    {"N_PER_FISH", "gN/kg"},
};

static const char *unit_of(const char *dim)
{
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
        if (strcmp(units[i].dim, dim) == 0)
            return units[i].unit;
    }
    return NULL;
}

static int row(FILE *f, const char *field, const char *value, const char *dim, const char *status,
               const char *help)
{
    const char *unit = unit_of(dim);

    if (unit == NULL) {
        fprintf(stderr, "%s: no unit for %s\n", field, dim);
        return -1;
    }
    fprintf(f, "| `%s` | %s | %s | %s | %s |\n", field, value, unit, status, help);
    return 0;
}

static int write_table(FILE *f)
{
    int status = 0;

    fprintf(f, BEGIN "| parameter | default | unit | status | meaning and source |\n"
                     "|---|---|---|---|---|\n");
#define ROW(field, dflt, dim, lo, hi, state, help)                                                 \
    status |= row(f, #field, #dflt, #dim, state, help);
    TL_PARAM_LIST(ROW)
#undef ROW
    fprintf(f, END);
    return status;
}

int main(int argc, char **argv)
{
    char *ours = NULL;
    char *theirs = NULL;
    size_t size = 0;
    size_t capacity = 0;
    FILE *memory;
    FILE *file = NULL;
    int result = 1;

    if (argc < 2)
        return write_table(stdout) == 0 ? 0 : 1;
    memory = open_memstream(&ours, &size);
    if (memory == NULL || write_table(memory) != 0)
        goto done;
    fflush(memory);
    file = fopen(argv[1], "rb");
    if (file == NULL || getdelim(&theirs, &capacity, '\0', file) < 0) {
        fprintf(stderr, "%s: %s\n", argv[1], strerror(errno));
        goto done;
    }
    if (strstr(theirs, ours) == NULL)
        printf("%s: the table of parameters is not the program's; write it anew\n", argv[1]);
    else
        result = 0;
done:
    if (memory != NULL)
        fclose(memory);
    if (file != NULL)
        fclose(file);
    free(ours);
    free(theirs);
    return result;
}
