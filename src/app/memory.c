/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdlib.h>
#ifdef __GLIBC__
#include <malloc.h>
#endif

#include "app/app.h"

/* Bytes: what the modes of a club take many times over. */
enum { MEMORY_KEPT = 64 << 20, MEMORY_APART = 4 << 20 };

void app_keep_memory(void)
{
#ifdef __GLIBC__
    mallopt(M_TRIM_THRESHOLD, MEMORY_KEPT);
    mallopt(M_MMAP_THRESHOLD, MEMORY_APART);
#endif
}
