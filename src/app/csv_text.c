/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/csv_text.h"

#include <string.h>

void csv_text_write(FILE *out, const char *text)
{
    const char *quote = strpbrk(text, ",\"") ? "\"" : "";
    fputs(quote, out);
    for (const unsigned char *c = (const unsigned char *)text; *c; c++) {
        if (*c == '"')
            fputc('"', out);
        fputc(*c < 0x20 || *c == 0x7f ? '?' : *c, out);
    }
    fputs(quote, out);
}
