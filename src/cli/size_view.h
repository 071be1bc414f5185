/* What a sizing found, and its ways to files and to the terminal. */
#ifndef TL_SIZE_VIEW_H
#define TL_SIZE_VIEW_H

#include <stdio.h>

#include "build_sheet.h"
#include "costs.h"
#include "paired.h"
#include "run_result.h"
#include "size.h"
#include "towerloop/handbook.h"

enum { TL_SIZE_BUYS = 2, TL_SIZE_QUANTITIES = 2 };

/* One step more of something, tried from the answer on. */
struct tl_size_buy {
    char what[64]; /* "one more tray, 22" */
    char setting[TL_SIZE_SETTING];
    struct tl_size_trial trial;
};

/* The run of the file with the answer put in, from its own start to its own end. */
struct tl_size_own_run {
    bool made; /* else there is no answer, or not one only */
    struct tl_scenario scenario;
    struct tl_run_result result;
    struct tl_amounts month;
    struct tl_bill bill;
    struct tl_build_sheet sheet;
};

/* Uncertain runs of the answers. */
enum { TL_SIZE_SURE_MOST = TL_SIZE_FRONT > 2 ? TL_SIZE_FRONT : 2 };
struct tl_size_sure {
    struct tl_paired *p;           /* [n] */
    struct tl_size_sure_case *of;  /* the same, what they are run with */
    size_t n;                      /* 0: they were not asked for, or there is no answer */
    size_t beside;                 /* of one quantity: that of the value beside; 0: none */
    size_t row[TL_SIZE_SURE_MOST]; /* of two: in the front */
};

struct tl_size_view {
    const struct tl_scenario *scenario; /* as given */
    struct tl_size_quantity quantity[TL_SIZE_QUANTITIES];
    size_t quantities; /* 0: nothing is sized, only reckoned by hand */
    double margin;
    bool steady;                /* the day that repeats itself was judged */
    const char *obstacle;       /* why there is no such day; NULL: there is */
    struct tl_size_result one;  /* of one quantity */
    struct tl_size_front front; /* of two */
    struct tl_size_buy buy[TL_SIZE_BUYS];
    size_t buys;
    struct tl_size_own_run own;
    struct tl_size_sure sure;
    enum tl_unit_system units;
    bool by_hand;
    struct tl_handbook hand;
};

/* "un-ionised ammonia" */
const char *tl_size_limit_name(int limit);
/* Whether there is an answer. */
bool tl_size_found(const struct tl_size_view *v);

void tl_size_text(const struct tl_size_view *v, FILE *f);
/* TL_OK, TL_E_IO (errno says why) or TL_E_MEMORY. */
int tl_size_write_csv(const struct tl_size_view *v, const char *path);
int tl_size_write_json(const struct tl_size_view *v, const char *path);

#endif
