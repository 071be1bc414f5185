/* Loops that several tests start from. Free each with free_loop(). */
#ifndef TOWERLOOP_TESTS_LOOPS_H
#define TOWERLOOP_TESTS_LOOPS_H

#include "towerloop/setup.h"

/* A 12 m3 tank with an 0.8 m3 chamber and a tower of 16 trays, 24 degC, fish of 500 g fed 1 %/d in
 * three meals, 60 d. */
void reference_loop(struct tl_setup *s, double fish_kg);

/* The same with no fish and no life: transport, gas and chemistry are left. */
void dead_loop(struct tl_setup *s);

/* 30 d with every kind of event, ration and source of water, and a varying temperature. */
void eventful_loop(struct tl_setup *s);

/* The same in the sun, with green water and a day with the hose. */
void sunny_loop(struct tl_setup *s);
void add_event(struct tl_setup *s, struct tl_event e);
void free_loop(struct tl_setup *s);

#endif
