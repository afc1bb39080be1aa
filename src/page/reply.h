/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Answers as JSON. A result is {"result": ..., "notes": [...], "cautions": [...]}: what --json prints, what the
 * command says beside it, and what it is read under. An error is {"error": {"message", "file", "line",
 * "column", "field"}}, with null for what is not known. */
#ifndef PAGE_REPLY_H
#define PAGE_REPLY_H

#include <jansson.h>

#include "page/server.h"

extern const char reply_json_type[];

/* HTTP's words that the views need. */
enum {
    REPLY_FINE = 200,
    REPLY_CREATED = 201,
    REPLY_ACCEPTED = 202,
    REPLY_MALFORMED = 400, /* the body is not what the path wants */
    REPLY_NOT_FOUND = 404,
    REPLY_CONFLICT = 409, /* not now: a job that has not ended, or that has */
    REPLY_WRONG = 422,    /* well formed, but a value in it, or in a file, is not allowed */
    REPLY_INTERNAL = 500,
    REPLY_BUSY = 503
};

/* Answers with a value, which is dropped; NULL: an error, for a number in it is none or memory is out. Numbers
 * are written so that reading them gives the same double again. */
void reply_json(server_reply *out, int status, json_t *value);
/* Answers with a result. `notes` (an array, NULL = none) is dropped; the cautions are lists that end with
 * NULL, each NULL itself when there is none. */
void reply_result(server_reply *out, json_t *result, json_t *notes, const char *const *cautions,
                  const char *const *more);
/* The same with a result that is text already, to be freed; NULL: an error, as above. */
void reply_result_text(server_reply *out, char *result, json_t *notes, const char *const *cautions);
/* Answers with an error. */
void reply_error(server_reply *out, int status, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
/* The same, of the field of the request. */
void reply_wrong(server_reply *out, const char *field, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
/* The same for a failed call. The message's place ("file:line:column: field: ...") is taken apart. */
void reply_failed(server_reply *out, caber_status status, const caber_message *message);

#endif
