/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Messages into the caller's buffer. */
#ifndef BASE_MESSAGE_H
#define BASE_MESSAGE_H

#include "caber.h"

/* Writes a sentence into message (NULL is allowed) and returns status, so that a failing function
 * can end with `return message_set(...)`. Text that does not fit is cut. */
caber_status message_set(caber_message *message, caber_status status, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
/* Empties message; NULL is allowed. Returns CABER_OK. */
caber_status message_clear(caber_message *message);

#endif
