/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The integrator's vectors: SUNDIALS' serial ones, with the operations that a step consists of replaced by
 * ones that take four numbers at a time. They have some two dozen numbers, where the library's own
 * operations cost more than the equations of motion. */
#ifndef SWING_VECTOR_H
#define SWING_VECTOR_H

#include <sundials/sundials_context.h>
#include <sundials/sundials_nvector.h>

/* A new vector of `length` numbers, all 0, or NULL when out of memory; its clones have its operations. */
N_Vector vector_create(sunindextype length, SUNContext context);

/* out = 1/(relative |y| + absolute): CVODE's weights of errors. */
void vector_weights(N_Vector y, double relative, N_Vector absolute, N_Vector out);

#endif
