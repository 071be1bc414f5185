/* Comparing doubles in tests: cmocka's own float asserts round to single precision. */
#ifndef TOWERLOOP_TESTS_NEAR_H
#define TOWERLOOP_TESTS_NEAR_H

/* Fails the running cmocka test unless |value - expected| <= tolerance (absolute). */
#define near(value, expected, tolerance)                                                           \
    near_at((value), (expected), (tolerance), #value, __FILE__, __LINE__)
/* The same with a tolerance relative to |expected|. */
#define near_rel(value, expected, tolerance)                                                       \
    near_rel_at((value), (expected), (tolerance), #value, __FILE__, __LINE__)

void near_at(double value, double expected, double tolerance, const char *what, const char *file,
             int line);
void near_rel_at(double value, double expected, double tolerance, const char *what,
                 const char *file, int line);

#endif
