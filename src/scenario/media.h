/* Media a tower can be filled with, by name. */
#ifndef TL_SCENARIO_MEDIA_H
#define TL_SCENARIO_MEDIA_H

struct tl_media {
    const char *name;
    double specific_surface_m2_m3;
    double size_m; /* nominal */
    double void_fraction;
    double critical_surface_tension_n_m;
    double bulk_density_kg_m3; /* dry */
};

/* The names of the rows, closed by NULL. */
extern const char *const tl_media_names[];
/* The row called `name`, or NULL. */
const struct tl_media *tl_media_find(const char *name);

#endif
