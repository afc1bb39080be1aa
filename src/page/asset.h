/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The files of the page as they are built into the program (embed.cmake makes the table). */
#ifndef PAGE_ASSET_H
#define PAGE_ASSET_H

#include <stddef.h>

typedef struct asset {
    const char *path; /* "/index.html" */
    const char
        *type; /* of its content; "" = a part of what the program writes, which is not served */
    const char *bytes;
    size_t size;
} asset;

extern const asset assets[];
extern const size_t asset_count; /* 0 = the page was not built */

#endif
