/* Several loops side by side, one a lane, in the same C: equations written in terms of `real` and `mask`
 * are compiled once with one lane (plain doubles, TL_WIDE 1, when nothing is said) and again with
 * vectors of TL_WIDE doubles (GNU C vector extensions).
 *
 * Every operation works lane by lane, so what a lane gives does not depend on its neighbours or on how
 * wide the machine is: an iteration goes on until all lanes are done, and lanes that are done keep
 * what they have. A comparison of reals is a mask; & and | join masks. */
#ifndef TL_BASE_LANES_H
#define TL_BASE_LANES_H

#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#ifndef TL_WIDE
#define TL_WIDE 1
#endif

#if TL_WIDE == 1

typedef double real;
typedef int mask;

static inline real lane_all(double x)
{
    return x;
}
static inline mask lane_not(mask m)
{
    return !m;
}
static inline mask lane_every(bool m)
{
    return m;
}
static inline bool lane_any(mask m)
{
    return m != 0;
}
static inline real lane_select(mask m, real yes, real no)
{
    return m ? yes : no;
}
static inline real lane_abs(real x)
{
    return fabs(x);
}
static inline real lane_sqrt(real x)
{
    return sqrt(x);
}
static inline real lane_exp(real x)
{
    return exp(x);
}
static inline real lane_expm1(real x)
{
    return expm1(x);
}
static inline real lane_log(real x)
{
    return log(x);
}
static inline real lane_log10(real x)
{
    return log10(x);
}
static inline real lane_pow(real x, real y)
{
    return pow(x, y);
}
static inline real lane_cbrt(real x)
{
    return cbrt(x);
}

/* x where it is above 0, else 0. */
static inline real tl_positive(real x)
{
    return x > 0 ? x : 0;
}

#else /* several lanes */

#ifdef __SSE2__
#include <immintrin.h>
#endif

typedef double real __attribute__((vector_size(8 * TL_WIDE)));
typedef long long mask __attribute__((vector_size(8 * TL_WIDE)));

static inline real lane_all(double x)
{
    return x - (real){0};
}
static inline mask lane_not(mask m)
{
    return ~m;
}
static inline mask lane_every(bool m)
{
    return (m ? -1 : 0) - (mask){0};
}
static inline bool lane_any(mask m)
{
#if TL_WIDE == 8 && defined(__AVX512DQ__)
    return _mm512_movepi64_mask((__m512i)m) != 0;
#elif TL_WIDE == 4 && defined(__AVX__)
    return _mm256_movemask_pd((__m256d)m) != 0;
#elif TL_WIDE == 2 && defined(__SSE2__)
    return _mm_movemask_pd((__m128d)m) != 0;
#else
    long long any = 0;
    for (int l = 0; l < TL_WIDE; l++)
        any |= m[l];
    return any != 0;
#endif
}
static inline real lane_select(mask m, real yes, real no)
{
    return (real)((m & (mask)yes) | (~m & (mask)no));
}
static inline real lane_abs(real x)
{
    return (real)((mask)x & 0x7fffffffffffffffLL);
}
static inline real lane_sqrt(real x)
{
    real y = x;
    for (int l = 0; l < TL_WIDE; l++)
        y[l] = sqrt(x[l]);
    return y;
}
static inline real tl_positive(real x)
{
    return (real)((mask)x & (x > 0));
}

/* Adding it leaves a whole number in the low bits. */
#define LANE_SHIFTER 6755399441055744.0 /* 1.5 2^52 */

/* exp by x = n ln 2 + r, |r| <= ln 2 / 2, and Taylor's series of r to r^13 (the rest is 4e-18): within
 * 2 units of the last place from -708 to 709, which it holds beyond; not a number stays one. */
static inline real lane_exp(real x)
{
    static const double c[] = {1.0 / 6227020800, 1.0 / 479001600, 1.0 / 39916800, 1.0 / 3628800,
                               1.0 / 362880,     1.0 / 40320,     1.0 / 5040,     1.0 / 720,
                               1.0 / 120,        1.0 / 24,        1.0 / 6,        1.0 / 2};
    x = lane_select(x < -708, lane_all(-708), x);
    x = lane_select(x > 709, lane_all(709), x);
    const real shifted = x * 1.4426950408889634 + LANE_SHIFTER;
    const real n = shifted - LANE_SHIFTER;
    const real r = (x - n * 0x1.62e42fee00000p-1) - n * 0x1.a39ef35793c76p-33;
    real sum = lane_all(c[0]);
    for (size_t i = 1; i < sizeof c / sizeof c[0]; i++)
        sum = sum * r + c[i];
    sum = 1 + (r + r * r * sum);
    const mask power = ((mask)shifted - (mask)lane_all(LANE_SHIFTER) + 1023) << 52;
    return sum * (real)power;
}

/* For x that is not near 0: within 1e-16 of 1. */
static inline real lane_expm1(real x)
{
    return lane_exp(x) - 1;
}

/* log of positive normal numbers, by x = 2^e m, m within sqrt 2 of 1, and the series of 2 artanh s,
 * s = (m - 1)/(m + 1), to s^23 (the rest is 1e-19): within 2 units of the last place, or 3e-17 near 1. */
static inline real lane_log(real x)
{
    const mask bits = (mask)x;
    mask exponent = (bits >> 52) - 1023;
    real m = (real)((bits & 0xfffffffffffffLL) | 0x3ff0000000000000LL);
    const mask large = m > 1.4142135623730951;
    m = lane_select(large, 0.5 * m, m);
    exponent = exponent - large;
    const real e = (real)(exponent + (mask)lane_all(LANE_SHIFTER)) - LANE_SHIFTER;
    const real s = (m - 1) / (m + 1);
    const real z = s * s;
    real sum = lane_all(1.0 / 23);
    for (int k = 21; k >= 3; k -= 2)
        sum = sum * z + 1.0 / k;
    return e * 0x1.62e42fee00000p-1 + (2 * s + (2 * s * z * sum + e * 0x1.a39ef35793c76p-33));
}
static inline real lane_log10(real x)
{
    return lane_log(x) * 0.43429448190325182765;
}
/* For positive x; relative error about 1e-16 (1 + |y log x|). */
static inline real lane_pow(real x, real y)
{
    return lane_exp(y * lane_log(x));
}
static inline real lane_cbrt(real x)
{
    return lane_exp(lane_log(x) / 3);
}

#endif

static inline mask lane_finite(real x)
{
    return x - x == 0; /* NOLINT(misc-redundant-expression): infinity, not a number */
}
static inline mask lane_nan(real x)
{
    return x != x; /* NOLINT(misc-redundant-expression): as not a number is */
}
/* As fmax() and fmin(): what is not a number gives way. */
static inline real lane_max(real a, real b)
{
    return lane_select((a > b) | lane_nan(b), a, b);
}
static inline real lane_min(real a, real b)
{
    return lane_select((a < b) | lane_nan(b), a, b);
}
/* The value of one lane. */
static inline double lane_value(const real *x, size_t lane)
{
#if TL_WIDE == 1
    (void)lane;
    return *x;
#else
    return (*x)[lane];
#endif
}
/* `bytes` that may hold reals, all zero, for free(); NULL when memory runs out. */
static inline void *lane_alloc(size_t bytes)
{
    const size_t align = sizeof(real) < 64 ? 64 : sizeof(real);
    const size_t whole = (bytes + align - 1) / align * align;
    void *p = aligned_alloc(align, whole);
    if (p)
        memset(p, 0, whole);
    return p;
}

#endif
