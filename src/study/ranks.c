/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/ranks.h"

#include <gsl/gsl_sort.h>
#include <stdlib.h>

#include "base/message.h"

caber_status ranks_fill(const double *x, size_t count, double *rank, caber_message *message)
{
    size_t *order = malloc((count + 1) * sizeof *order);
    if (!order)
        return message_set(message, CABER_NO_MEMORY, "out of memory for ranks");
    gsl_sort_index(order, x, 1, count);
    for (size_t i = 0, j; i < count; i = j) {
        for (j = i + 1; j < count && x[order[j]] == x[order[i]];)
            j++;
        for (size_t same = i; same < j; same++)
            rank[order[same]] = (double)(i + 1 + j) / 2;
    }
    free(order);
    return message_clear(message);
}
