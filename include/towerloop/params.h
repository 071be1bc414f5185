/* Every parameter of the model: one row gives the struct field, the scenario key, the default, the
 * dimension, the valid range, the status and the meaning. Model document, "Default values".
 *
 * status: published, memory (publication named, value not re-checked), judgement (chosen so that
 * published behaviour comes out), common practice (no source). */
#ifndef TOWERLOOP_PARAMS_H
#define TOWERLOOP_PARAMS_H

/* clang-format off */
/* field = key, default, dimension, min, max, status, meaning and source */
#define TL_PARAM_LIST(X)                                                                           \
    /* ammonia oxidisers */                                                                        \
    X(mu_aob, 0.78, RATE, 0, 10, "published", "growth rate of ammonia oxidisers at 20 degC (Hiatt & Grady 2008)") \
    X(y_aob, 0.18, YIELD_N, 0.01, 1, "published", "yield of ammonia oxidisers (Hiatt & Grady 2008)") \
    X(ko2_aob, 0.6, CONC, 0.001, 10, "published", "oxygen half-saturation of ammonia oxidisers (Hiatt & Grady 2008)") \
    X(b_aob, 0.08, RATE, 0, 2, "published", "decay rate of ammonia oxidisers at 20 degC (inside Sin et al. 2008, 0.07-0.30)") \
    X(k_tan, 1.0, CONC_N, 0.001, 50, "published", "ammonia half-saturation, apparent (inside Sin et al. 2008, 0.14-1.0)") \
    X(theta_mu_aob, 1.08, NUMBER, 0.9, 1.3, "judgement", "temperature factor of mu_aob") \
    X(ph_lo_aob, 6.5, NUMBER, 2, 9, "judgement", "lower pH of half activity, ammonia oxidisers (against Villaverde et al. 1997)") \
    X(ph_hi_aob, 9.5, NUMBER, 7, 13, "judgement", "upper pH of half activity, ammonia oxidisers (against Villaverde et al. 1997)") \
    X(l_aob, 0.32, FILM, 0.001, 100, "judgement", "active depth of ammonia oxidisers at 20 degC (set by Zhu & Chen 1999)") \
    /* nitrite oxidisers */                                                                        \
    X(mu_nob, 0.78, RATE, 0, 10, "published", "growth rate of nitrite oxidisers at 20 degC (Hiatt & Grady 2008)") \
    X(y_nob, 0.06, YIELD_N, 0.01, 1, "published", "yield of nitrite oxidisers (Hiatt & Grady 2008)") \
    X(ko2_nob, 1.2, CONC, 0.001, 10, "published", "oxygen half-saturation of nitrite oxidisers (Hiatt & Grady 2008)") \
    X(b_nob, 0.08, RATE, 0, 2, "published", "decay rate of nitrite oxidisers at 20 degC (inside Sin et al. 2008, 0.08-0.20)") \
    X(k_no2, 0.5, CONC_N, 0.001, 50, "published", "nitrite half-saturation, apparent (inside Sin et al. 2008, 0.1-3)") \
    X(theta_mu_nob, 1.061, NUMBER, 0.9, 1.3, "published", "temperature factor of mu_nob (44 kJ/mol, Vannecke & Volcke)") \
    X(k_fa, 0.64, CONC_N, 0.001, 100, "published", "un-ionised ammonia that halves nitrite oxidation (Park & Bae 2009)") \
    X(ph_lo_nob, 6.2, NUMBER, 2, 9, "judgement", "lower pH of half activity, nitrite oxidisers") \
    X(ph_hi_nob, 9.5, NUMBER, 7, 13, "judgement", "upper pH of half activity, nitrite oxidisers") \
    X(l_nob, 0.30, FILM, 0.001, 100, "judgement", "active depth of nitrite oxidisers at 20 degC (set by Zhu & Chen 1999)") \
    /* heterotrophs */                                                                             \
    X(mu_het, 6.0, RATE, 0, 30, "memory", "growth rate of heterotrophs at 20 degC (Henze et al. 2000)") \
    X(y_het, 0.63, YIELD_COD, 0.1, 0.95, "memory", "yield of heterotrophs (Henze et al. 2000)") \
    X(ko2_het, 0.2, CONC, 0.001, 10, "memory", "oxygen half-saturation of heterotrophs (Henze et al. 2000)") \
    X(b_het, 0.40, RATE, 0, 5, "memory", "decay rate of heterotrophs at 20 degC (Henze et al. 2000)") \
    X(k_ss, 5.0, CONC_COD, 0.001, 200, "judgement", "organics half-saturation of heterotrophs") \
    X(theta_mu_het, 1.07, NUMBER, 0.9, 1.3, "memory", "temperature factor of mu_het") \
    X(l_het, 3.0, FILM, 0.001, 1000, "judgement", "active depth of heterotrophs (set by Zhu & Chen 1999)") \
    /* without oxygen */                                                                           \
    X(eta_anoxic, 0.8, FRACTION, 0, 1, "published", "growth on nitrate as a share of growth on oxygen, and the same of sludge; 0: no denitrification (ASM1, Henze et al. 2000)") \
    X(k_no3, 0.5, CONC_N, 0.001, 20, "published", "nitrate half-saturation of denitrification (ASM1, Henze et al. 2000)") \
    X(d_o2_film, 1.7e-4, DIFFUSIVITY, 1e-6, 1e-2, "memory", "diffusivity of oxygen in a film (0.8 of 2.1e-4 in water at 20 degC)") \
    /* shared by the films */                                                                      \
    X(theta_decay, 1.04, NUMBER, 0.9, 1.3, "judgement", "temperature factor of all decay") \
    X(k_alk, 0.30, ALKALINITY, 0.0001, 10, "judgement", "alkalinity of half activity, squared form (against Biesterfeld et al. 2003)") \
    X(k_tan_uptake, 0.01, CONC_N, 0.00001, 1, "judgement", "ammonia half-saturation of uptake for biomass alone") \
    X(i_biomass, 0.086, N_CONTENT, 0, 0.2, "memory", "nitrogen in biomass (ASM1)") \
    X(i_organics, 0.03, N_CONTENT, 0, 0.12, "judgement", "nitrogen in organics, solids and sludge") \
    X(f_inert, 0.08, FRACTION, 0, 1, "memory", "inert share of decayed biomass (ASM1)") \
    X(l_overlay, 12.0, FILM, 0.01, 1000, "judgement", "overlay of heterotrophs and solids that halves nitrification (set by Zhu & Chen 1999)") \
    X(k_detach, 0.10, RATE, 0, 10, "judgement", "detachment rate at the reference film") \
    X(l_detach, 5.0, FILM, 0.01, 1000, "judgement", "reference film of detachment") \
    X(detach_nitrifiers, 0.2, FRACTION, 0, 1, "judgement", "detachment of nitrifiers as a share of the heterotrophs'") \
    X(f_attach, 1e-5, FILM, 0, 1, "judgement", "attachment from air and water: a dead filter can start again") \
    X(k_hydrolysis, 0.15, RATE, 0, 10, "judgement", "hydrolysis of solids and sludge at 20 degC") \
    X(theta_hydrolysis, 1.07, NUMBER, 0.9, 1.3, "judgement", "temperature factor of hydrolysis") \
    X(k_slough_tray, 0.03, SLOUGH, 0, 10, "judgement", "sloughing of trapped solids in trays per hydraulic load") \
    X(k_slough_wall, 0.10, RATE, 0, 10, "judgement", "sloughing of trapped solids from walls") \
    X(capture, 0.05, PER_LENGTH, 0, 10, "judgement", "capture of solids per depth of media") \
    X(capture_submerged, 0.5, PER_LENGTH, 0, 10, "judgement", "capture of solids per depth of media under water: solids settle in the still corners between the stones") \
    X(slough_submerged, 0.1, FRACTION, 0, 1, "judgement", "sloughing of trapped solids under water as a share of that in a trickled tray: water that fills the voids moves about ten times slower than a film of it") \
    X(wall_share, 0.1, FRACTION, 0, 1, "memory", "effective share of the wetted wall area (walls carry about 10 % of nitrification)") \
    X(k_chlorine_kill, 30, KILL, 0, 10000, "judgement", "decay of film per residual chlorine") \
    X(film_density, 30000, CONC_COD, 1000, 200000, "judgement", "organic matter in wet film and packed sludge") \
    X(voids_open, 0.3, FRACTION, 0, 0.9, "judgement", "filled share of the voids up to which the water spreads as over clean media") \
    X(spread_voids, 0.8, FRACTION, 0, 0.95, "judgement", "share of the wetted area lost where the voids are full") \
    /* starting films */                                                                           \
    X(new_aob, 2e-4, FILM, 0, 10, "judgement", "ammonia oxidisers on new media") \
    X(new_nob, 1e-4, FILM, 0, 10, "judgement", "nitrite oxidisers on new media") \
    X(new_het, 1e-3, FILM, 0, 10, "judgement", "heterotrophs on new media") \
    X(mature_aob, 0.4, FILM, 0, 50, "judgement", "ammonia oxidisers on mature media") \
    X(mature_nob, 0.12, FILM, 0, 50, "judgement", "nitrite oxidisers on mature media") \
    X(mature_het, 1.0, FILM, 0, 100, "judgement", "heterotrophs on mature media") \
    X(mature_trapped, 0.3, FILM, 0, 1000, "judgement", "trapped biodegradable solids in mature media") \
    X(mature_inert, 0.5, FILM, 0, 1000, "judgement", "trapped inert solids in mature media") \
    X(media_holds, 0.05, FRACTION, 0.001, 0.9, "judgement", "water that drained media hold, by volume of the bed") \
    X(clean_loss, 0.05, FRACTION, 0, 1, "judgement", "share of the film lost when a tray is rinsed") \
    /* water, gas, chlorine, sludge */                                                             \
    X(k_surface, 0.6, VELOCITY, 0, 20, "judgement", "oxygen transfer at a sheltered water surface at 20 degC (published 0 to 0.5 at no wind, see Cole & Caraco 1998)") \
    X(theta_gas, 1.024, NUMBER, 0.9, 1.2, "published", "temperature factor of gas transfer (ASCE 2-06)") \
    X(co2_to_o2, 0.90, FRACTION, 0, 2, "memory", "transfer of carbon dioxide as a share of oxygen's, surface and aerator (Royce & Thornhill)") \
    X(co2_in_air, 420, AIR_SHARE, 0, 5000, "judgement", "carbon dioxide in the air") \
    X(k_chlorine_demand, 50, RATE, 0, 10000, "judgement", "loss of free residual chlorine to the water's demand") \
    X(k_chloramine_demand, 0.5, RATE, 0, 10000, "judgement", "loss of chloramine to the water's demand (0.07 to 0.13 measured in drinking water)") \
    X(thiosulfate_per_chlorine, 7.0, PER_MASS, 0.8, 50, "published", "sodium thiosulfate crystals per residual chlorine as Cl2 (Hach technical note; the reaction to tetrathionate takes the most)") \
    X(fall_aeration, 0, NUMBER, 0, 2, "judgement", "aeration by the falls below the trays: quality and structure of a weir, 1 or less for pond water (Water Research Laboratory 1973); 0: not counted, since no pool lies under a tray") \
    X(k_formaldehyde, 1.0, RATE, 0, 100, "judgement", "loss of formaldehyde, which takes oxygen, at any temperature") \
    X(v_settle, 20, VELOCITY, 0, 5000, "judgement", "settling velocity of faeces and fines together in a gravity chamber") \
    X(ko2_sludge, 0.5, CONC, 0.001, 10, "judgement", "oxygen half-saturation of sludge oxidation") \
    /* algae */                                                                                    \
    X(mu_algae, 1.5, RATE, 0, 10, "published", "growth rate of algae at 20 degC (river model of Reichert & Schuwirth; 1 to 3 in Brown & Barnwell 1987)") \
    X(theta_algae, 1.066, NUMBER, 0.9, 1.3, "memory", "temperature factor of all rates of algae (Eppley 1972)") \
    X(light_algae, 100, LIGHT, 1, 2000, "judgement", "light of half growth (200 in the river model of Reichert & Schuwirth; others of the order of 100)") \
    X(b_algae, 0.10, RATE, 0, 5, "published", "respiration of algae at 20 degC (river model of Reichert & Schuwirth)") \
    X(death_algae, 0.05, RATE, 0, 5, "judgement", "death of green water and tearing off of mats at 20 degC (0.10 in the same river model)") \
    X(k_n_algae, 0.04, CONC_N, 0.00001, 10, "published", "nitrogen half-saturation of algae (river model of Reichert & Schuwirth)") \
    X(k_c_algae, 0.05, ALKALINITY, 0.00001, 10, "judgement", "carbon dioxide and bicarbonate of half growth: stops growth at a high pH") \
    X(i_algae, 0.066, N_CONTENT, 0.01, 0.15, "published", "nitrogen in algae (C106 N16 and 106 O2 to burn it, Redfield et al. 1963)") \
    X(dim_water, 0.5, PER_LENGTH, 0.01, 20, "judgement", "extinction of light by the water of a tank") \
    X(dim_algae, 0.07, EXTINCTION, 0, 5, "memory", "extinction of light by algae (Casagli et al. 2021)") \
    X(edge_algae, 0.1, FRACTION, 0, 1, "judgement", "open face of a tray as a share of that of the tray above it (set by a common practice: after 19 months in full sun the second tray is nearly clean)") \
    X(mat_algae, 50, FILM, 0.1, 5000, "judgement", "mat that halves its own growth, by open face") \
    X(cover_algae, 20, FILM, 0.1, 5000, "judgement", "mat that leaves 37 % of the open face uncovered") \
    X(attach_algae, 0.01, FILM, 0, 10, "judgement", "attachment of algae from air and water, by open face") \
    X(spread_algae, 0.3, FRACTION, 0, 0.95, "judgement", "share of the wetted area lost under a top tray covered all over") \
    /* fish */                                                                                     \
    X(n_feed, 0.092, PER_MASS, 0, 0.16, "published", "ammonia nitrogen excreted per protein eaten (Timmons & Ebeling)") \
    X(n_basal, 0.12, FISH_RATE, 0, 2, "judgement", "ammonia nitrogen excreted per mass of unfed fish at 20 degC (range 0.05-0.16)") \
    X(theta_basal, 1.09, NUMBER, 0.9, 1.3, "judgement", "temperature factor of n_basal (Goolish & Adelman 1984 maintenance ration)") \
    X(k_gut, 4.8, RATE, 0.1, 100, "judgement", "passage through each of two gut stages at 20 degC (excretion peaks about 5 h after a meal, published 2-8 h)") \
    X(theta_gut, 1.07, NUMBER, 0.9, 1.3, "judgement", "temperature factor of k_gut") \
    X(o2_per_feed, 0.25, PER_MASS, 0, 2, "judgement", "oxygen used per feed absorbed, beyond resting") \
    X(o2_activity, 1.5, NUMBER, 0.5, 10, "judgement", "routine activity as a multiple of the resting oxygen use") \
    X(o2_rest, 0.0674, NUMBER, 0, 1, "published", "resting oxygen use, mg/g/h at 1 g and 0 degC (Yamanaka et al. 2013)") \
    X(o2_rest_mass, -0.193, NUMBER, -1, 0.5, "published", "exponent of mass in the resting oxygen use (Yamanaka et al. 2013)") \
    X(o2_rest_temperature, 0.0562, NUMBER, 0, 0.3, "published", "exponent of temperature, 1/degC, in the resting oxygen use (Yamanaka et al. 2013)") \
    X(ko2_fish, 0.5, CONC, 0.001, 5, "judgement", "oxygen at which the fish take up half") \
    X(respiratory_quotient, 0.95, NUMBER, 0.5, 1.5, "memory", "mol carbon dioxide given off per mol oxygen used") \
    X(solids_per_feed, 0.15, COD_PER_MASS, 0, 1.3, "memory", "biodegradable solids per feed (faeces about 25 % of feed, Timmons & Ebeling)") \
    X(inert_per_feed, 0.15, COD_PER_MASS, 0, 1.3, "memory", "inert solids per feed (faeces about 25 % of feed, Timmons & Ebeling)") \
    X(dissolved_per_feed, 0.12, COD_PER_MASS, 0, 1.3, "published", "dissolved organics per feed (about 40 % of solid COD, Dalsgaard & Pedersen 2011)") \
    X(cod_of_feed, 1.3, COD_PER_MASS, 0.5, 2.5, "judgement", "organic matter in uneaten feed") \
    X(n_of_protein, 0.16, PER_MASS, 0.1, 0.2, "common practice", "nitrogen in protein") \
    X(n_of_fish, 27, N_PER_FISH, 10, 50, "memory", "nitrogen in fish") \
    X(cod_of_fish, 0.45, COD_PER_MASS, 0, 2, "judgement", "organic matter in fish (5 to 7 kJ/g, of which 14 kJ take 1 g of oxygen)") \
    X(o2_critical, 0.7, CONC, 0, 5, "published", "critical oxygen of carp: below it fish are lost (Yamanaka et al. 2013)") \
    /* heat, with `weather` */                                                                     \
    X(evaporation, 1, NUMBER, 0, 5, "judgement", "factor on evaporation and convection at open water: shelter, splashing (1: Smith et al. 1994)") \
    X(cover_heat_loss, 3, HEAT_LOSS, 0, 50, "judgement", "heat through a cover to the air: 1 cm of closed foam 3, 5 cm 0.6, an air-cushion sheet 6") \
    X(water_albedo, 0.08, FRACTION, 0, 1, "memory", "share of the sun that open water throws back") \
    X(tower_air_still, 0.05, SPEED, 0, 10, "judgement", "velocity of the air through the media without wind") \
    X(tower_air_wind, 0.2, FRACTION, 0, 2, "judgement", "velocity of the air through the media as a share of the wind's")
/* clang-format on */

struct tl_params {
#define TL_PARAM_FIELD(field, dflt, dim, lo, hi, status, help) double field;
    TL_PARAM_LIST(TL_PARAM_FIELD)
#undef TL_PARAM_FIELD
};

void tl_params_default(struct tl_params *p);

#endif
