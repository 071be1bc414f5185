/* A small loop that runs in a blink, as text. */
#ifndef TOWERLOOP_TESTS_SMALL_H
#define TOWERLOOP_TESTS_SMALL_H

static const char small_text[] =
    "format: 1\n"
    "title: Small loop\n"
    "start: 2027-06-01 06:00\n"
    "length: 4 d\n"
    "report every: 50 min\n"
    "temperature: {mean: 20 degC, daily swing: 1 degC}\n"
    "tank: {volume: 6 m3, surface: 6 m2, wetted walls: 18 m2}\n"
    "settling chamber: {volume: 500 L, surface: 0.8 m2, wetted walls: 3 m2}\n"
    "pump: {flow: 800 gal/h, to tower: 100 %}\n"
    "tower: {trays: 5, media depth: 3 in, plan area: 0.2 m2, media: lava rock, biofilm: mature}\n"
    "aerator: {oxygen transfer: 6 g/h}\n"
    "source water: {alkalinity: 120 mg/L as CaCO3, pH: 7.6, nitrate: 2 mg/L as N, "
    "chloride: 20 mg/L}\n"
    "water change: {trickle: 10 %/d}\n"
    "fish: [{name: koi, count: 12, mean mass: 500 g}]\n"
    "feeding: {ration: 0.8 %/d, protein: 38 %, meals: [\"08:00\", \"17:00\"]}\n"
    "events: [{at: day 2 10:00, pump: off, for: 3 h}]\n";

#endif
