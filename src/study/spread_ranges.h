/* Built-in ranges of what is uncertain. */
#ifndef TL_STUDY_SPREAD_RANGES_H
#define TL_STUDY_SPREAD_RANGES_H

/* key, nature, kind, a, b, c, status, source */
/* clang-format off */
#define TL_SPREAD_LIST(X)                                                                          \
    X("parameters.mu_aob", PARAMETER, TRIANGULAR, 0.5, 2.1, 0.78, "published", "Sin et al. 2008")  \
    X("parameters.mu_nob", PARAMETER, TRIANGULAR, 0.4, 1.05, 0.78, "published", "Sin et al. 2008") \
    X("parameters.b_aob", PARAMETER, TRIANGULAR, 0.07, 0.30, 0.08, "published", "Sin et al. 2008") \
    X("parameters.b_nob", PARAMETER, TRIANGULAR, 0.08, 0.20, 0.08, "published", "Sin et al. 2008")
/* clang-format on */

#endif
