/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/message.h"

#include <stdarg.h>
#include <stdio.h>

caber_status message_set(caber_message *message, caber_status status, const char *format, ...)
{
    if (!message)
        return status;
    va_list args;
    va_start(args, format);
    vsnprintf(message->text, sizeof message->text, format, args);
    va_end(args);
    return status;
}

caber_status message_clear(caber_message *message)
{
    if (message)
        message->text[0] = '\0';
    return CABER_OK;
}

const char *caber_status_text(caber_status status)
{
    switch (status) {
#define STATUS_CASE(symbol, text)                                                                  \
    case symbol:                                                                                   \
        return text;
        CABER_STATUS_LIST(STATUS_CASE)
#undef STATUS_CASE
    }
    return "an unknown status";
}

const char *caber_version(void)
{
    return CABER_VERSION;
}
