/* The film's constants out of the parameters; its rates stand in film.h. */
#include "film.h"

#include <stddef.h>

void tl_film_model_make(const struct tl_params *p, struct tl_film_model *f)
{
    f->p = *p;
    tl_ph_bell_make(p->ph_lo_aob, p->ph_hi_aob, &f->bell_a);
    tl_ph_bell_make(p->ph_lo_nob, p->ph_hi_nob, &f->bell_n);
    tl_process_table_fill(p, &f->table);
    const double *decay = f->table.nu[TL_DECAY_A];
    f->turnover = (struct tl_film_turnover){
        decay[TL_TAN], decay[TL_ALK], decay[TL_COLUMN_FILM + TL_FS], decay[TL_COLUMN_FILM + TL_FI]};
    f->per_overlay = 1 / p->l_overlay;
    f->detach = p->k_detach / p->l_detach;
    f->reach = 2 * p->d_o2_film * p->film_density;
}
