/* What a settling chamber catches. Pure functions; model document, "What the settling chamber catches". */
#ifndef TOWERLOOP_SETTLING_H
#define TOWERLOOP_SETTLING_H

/* Flow over surface, m/d: solids that sink slower than that are not all caught. INFINITY without a
 * surface; both arguments 0 or more. */
double tl_overflow_rate_m_d(double flow_m3_d, double surface_m2);

/* Share of the solids of settling velocity `v_m_d` that one pass leaves behind, 0..1, at an overflow
 * rate (0 or more): in a chamber that is mixed all over, as the model's is, and in an ideal one, where
 * the water moves on without mixing (Hazen 1904, from memory). */
double tl_settled_share_mixed(double v_m_d, double overflow_m_d);
double tl_settled_share_ideal(double v_m_d, double overflow_m_d);

/* Common practice, no source. */
#define TL_USUAL_OVERFLOW_LOW_M_H  1.75
#define TL_USUAL_OVERFLOW_HIGH_M_H 3.5

#endif
