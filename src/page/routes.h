/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The interface of the page: one table of paths, by which requests are answered and which describes itself at
 * /api/v1. The version in the path changes when an answer loses or changes a key; new ones may come. */
#ifndef PAGE_ROUTES_H
#define PAGE_ROUTES_H

#include "page/page.h"

/* What the server calls; p must outlive it. */
server_hooks routes_hooks(page *p);

/* As server_hooks; for tests that speak to no server. */
server_way routes_find(void *context, server_method method, const char *path);
void routes_answer(void *context, const void *route, const server_request *request,
                   server_reply *reply);

#endif
