/* What the water, the films and the sludge hold: one list gives the enumeration, the name, the unit.
 * Model document, section "Components". */
#ifndef TOWERLOOP_COMPONENT_H
#define TOWERLOOP_COMPONENT_H

/* id, short name, long name, unit of the concentration */
#define TL_WATER_LIST(X)                                                                           \
    X(TL_TAN, "TAN", "total ammonia nitrogen", "gN/m3")                                            \
    X(TL_NO2, "NO2", "nitrite nitrogen", "gN/m3")                                                  \
    X(TL_NO3, "NO3", "nitrate nitrogen", "gN/m3")                                                  \
    X(TL_O2, "O2", "dissolved oxygen", "g/m3")                                                     \
    X(TL_ALK, "ALK", "alkalinity", "eq/m3")                                                        \
    X(TL_TIC, "TIC", "total inorganic carbon", "mol/m3")                                           \
    X(TL_SS, "SS", "dissolved biodegradable organics", "gCOD/m3")                                  \
    X(TL_XS, "XS", "biodegradable solids", "gCOD/m3")                                              \
    X(TL_XI, "XI", "inert solids", "gCOD/m3")                                                      \
    X(TL_CL, "CL", "chloride", "g/m3")                                                             \
    X(TL_HOCL, "HOCL", "residual chlorine", "gCl2/m3")

enum tl_water_component {
#define TL_WATER_ENUM(id, name, longname, unit) id,
    TL_WATER_LIST(TL_WATER_ENUM)
#undef TL_WATER_ENUM
        TL_NWATER
};

/* Films hold mass per wetted area (gCOD/m2); the state is the mass (gCOD) of a wall or tray cell. */
#define TL_FILM_LIST(X)                                                                            \
    X(TL_FA, "F_A", "ammonia oxidisers")                                                           \
    X(TL_FN, "F_N", "nitrite oxidisers")                                                           \
    X(TL_FH, "F_H", "heterotrophs")                                                                \
    X(TL_FS, "F_S", "trapped biodegradable solids")                                                \
    X(TL_FI, "F_I", "trapped inert solids")

enum tl_film_component {
#define TL_FILM_ENUM(id, name, longname) id,
    TL_FILM_LIST(TL_FILM_ENUM)
#undef TL_FILM_ENUM
        TL_NFILM
};

#endif
