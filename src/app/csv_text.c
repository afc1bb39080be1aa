/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/csv_text.h"

#include <string.h>

#include "base/message.h"

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

caber_status csv_text_close(FILE *out, caber_message *message)
{
    bool failed = ferror(out) != 0;
    failed |= fclose(out) != 0;
    return failed ? message_set(message, CABER_NO_MEMORY, "out of memory for a table")
                  : message_clear(message);
}
