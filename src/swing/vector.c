/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "swing/vector.h"

#include <math.h>
#include <nvector/nvector_serial.h>

#include "base/lane.h"

/* The operations allow an operand to be the result, so each lane is read before it is written. */

LANE_INLINE void sum_of(double a, const double *x, double b, const double *y, double *z, long n)
{
    long i = 0;
    for (; i + LANE <= n; i += LANE)
        lane_store(z + i, a * lane_load(x + i) + b * lane_load(y + i));
    for (; i < n; i++)
        z[i] = a * x[i] + b * y[i];
}

LANE_CLONES static void linear_sum(realtype a, N_Vector x, realtype b, N_Vector y, N_Vector z)
{
    sum_of(a, NV_DATA_S(x), b, NV_DATA_S(y), NV_DATA_S(z), NV_LENGTH_S(z));
}

/* z_j = a_j x + y_j for several j */
LANE_CLONES static int scale_add(int count, realtype *a, N_Vector x, N_Vector *y, N_Vector *z)
{
    for (int j = 0; j < count; j++)
        sum_of(a[j], NV_DATA_S(x), 1, NV_DATA_S(y[j]), NV_DATA_S(z[j]), NV_LENGTH_S(x));
    return 0;
}

/* z = sum_j a_j x_j */
LANE_CLONES static int combination(int count, realtype *a, N_Vector *x, N_Vector z)
{
    const long n = NV_LENGTH_S(z);
    double *out = NV_DATA_S(z);
    long i = 0;
    for (; i + LANE <= n; i += LANE) {
        lane sum = lane_of(0);
        for (int j = 0; j < count; j++)
            sum += a[j] * lane_load(NV_DATA_S(x[j]) + i);
        lane_store(out + i, sum);
    }
    for (; i < n; i++) {
        double sum = 0;
        for (int j = 0; j < count; j++)
            sum += a[j] * NV_DATA_S(x[j])[i];
        out[i] = sum;
    }
    return 0;
}

LANE_CLONES static void scale(realtype a, N_Vector x, N_Vector z)
{
    const double *from = NV_DATA_S(x);
    double *to = NV_DATA_S(z);
    const long n = NV_LENGTH_S(z);
    long i = 0;
    for (; i + LANE <= n; i += LANE)
        lane_store(to + i, a * lane_load(from + i));
    for (; i < n; i++)
        to[i] = a * from[i];
}

LANE_CLONES static void constant(realtype a, N_Vector z)
{
    double *to = NV_DATA_S(z);
    const long n = NV_LENGTH_S(z);
    for (long i = 0; i < n; i++)
        to[i] = a;
}

LANE_CLONES static realtype weighted_norm(N_Vector x, N_Vector w)
{
    const double *value = NV_DATA_S(x), *weight = NV_DATA_S(w);
    const long n = NV_LENGTH_S(x);
    lane sums = lane_of(0);
    long i = 0;
    for (; i + LANE <= n; i += LANE) {
        const lane one = lane_load(value + i) * lane_load(weight + i);
        sums += one * one;
    }
    double sum = lane_sum(sums);
    for (; i < n; i++)
        sum += (value[i] * weight[i]) * (value[i] * weight[i]);
    return sqrt(sum / (double)n);
}

N_Vector vector_create(sunindextype length, SUNContext context)
{
    N_Vector v = N_VNew_Serial(length, context);
    if (!v)
        return NULL;
    v->ops->nvlinearsum = linear_sum;
    v->ops->nvscaleaddmulti = scale_add;
    v->ops->nvlinearcombination = combination;
    v->ops->nvscale = scale;
    v->ops->nvconst = constant;
    v->ops->nvwrmsnorm = weighted_norm;
    constant(0, v);
    return v;
}

LANE_CLONES void vector_weights(N_Vector y, double relative, N_Vector absolute, N_Vector out)
{
    const double *value = NV_DATA_S(y), *least = NV_DATA_S(absolute);
    double *weight = NV_DATA_S(out);
    const long n = NV_LENGTH_S(y);
    for (long i = 0; i < n; i++)
        weight[i] = 1 / (relative * fabs(value[i]) + least[i]);
}
