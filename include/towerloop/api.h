/* Marks what libtowerloop exports; everything else in it is hidden. */
#ifndef TOWERLOOP_API_H
#define TOWERLOOP_API_H

#if defined __GNUC__
#define TL_API __attribute__((visibility("default")))
#else
#define TL_API
#endif

#endif
