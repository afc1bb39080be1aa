/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * HTTP on the loopback interface; server.c is the only file that knows libmicrohttpd. It knows nothing of
 * what is asked for: that is the owner's, through server_hooks.
 *
 * Threads. One thread speaks with all connections. A request that is computed goes into a queue of bounded
 * length, from which some workers take it; meanwhile its connection sleeps. One more thread looks at the
 * clock: it ends what takes too long and wakes streams that have news. A slow client so holds a connection,
 * never a worker.
 *
 * What is refused before anything is read of a body: a Host that is not this server's (421: a name that
 * somebody points to 127.0.0.1), an Origin or a Sec-Fetch-Site of another page (403), a path that does not
 * exist (404), a method that it does not have (405), a body of another kind (415) or beyond the limit (413). */
#ifndef PAGE_SERVER_H
#define PAGE_SERVER_H

#include <stdbool.h>
#include <stddef.h>

#include "caber.h"

typedef enum server_method { SERVER_GET, SERVER_POST, SERVER_PUT, SERVER_METHODS } server_method;

/* The name of a method; HEAD counts as GET. */
const char *server_method_name(server_method method);

/* A request that has arrived whole. */
typedef struct server_request {
    server_method method;
    const char *path; /* without its escapes */
    const char *body; /* with a 0 behind; never NULL */
    size_t size;
} server_request;

/* An answer. All 0 is an empty one. */
typedef struct server_reply {
    int status;
    const char *type; /* of the body, constant */
    char *body;       /* malloc; the server's from now on; NULL = empty */
    size_t size;
    const char *constant; /* in place of body: bytes that outlive the server */
    char location[96];    /* "" = none */
    void *stream;         /* not NULL: a stream of events, which hooks.stream writes */
} server_reply;

/* How a request is treated, by its method and path alone. */
typedef struct server_way {
    const void *route; /* NULL = there is no such path */
    unsigned methods;  /* bit m: the path has method m */
    const char *type;  /* that a body must have; NULL = the request has none */
    bool slow;         /* it is computed: by a worker */
} server_way;

/* What the owner of the server does. `find`, `stream` and `ready` must be quick. */
typedef struct server_hooks {
    void *context;
    server_way (*find)(void *context, server_method method, const char *path);
    void (*answer)(void *context, const void *route, const server_request *request,
                   server_reply *reply);
    /* Makes the answer that refuses a request, for the reason given. */
    void (*refuse)(int status, const char *reason, server_reply *reply);
    /* Writes what is new of a stream, at most `size` bytes; returns how many, 0 when nothing is new, -1 when
     * it has ended. */
    long (*stream)(void *context, void *stream, char *to, size_t size);
    bool (*ready)(void *context, void *stream); /* whether there is something new, or an end */
    void (*leave)(void *context, void *stream); /* nobody listens any more; frees it */
} server_hooks;

/* Limits; defaults from server_settings_default. Times are in seconds. */
typedef struct server_settings {
    int port;        /* 0 = one that is free */
    int workers;     /* threads that compute */
    int connections; /* at once; when nearly all are taken, silent ones are closed */
    int queue;       /* requests that wait for a worker; beyond it 503 with Retry-After */
    int streams;     /* streams of events at once */
    size_t body;     /* bytes of a body */
    double receive;  /* for a request to arrive whole */
    double compute;  /* for its answer, with waiting; 503 or 504 then */
    double send;     /* for the answer to be taken */
    double idle;     /* for a connection on which nothing happens */
    double stop;     /* for begun requests to end when the server stops */
} server_settings;

server_settings server_settings_default(void);

typedef struct server server;

/* Starts a server on 127.0.0.1. The caller has blocked the signals that it waits for. Errors: CABER_IO_ERROR
 * when the port cannot be had, CABER_NO_MEMORY. */
caber_status server_start(const server_settings *settings, const server_hooks *hooks, server **out,
                          caber_message *message);
/* The port it listens on. */
int server_port(const server *s);
/* Takes no new request, ends the streams, lets begun ones finish, and frees the server. Returns false when a
 * worker was still computing after settings.stop seconds: then threads and memory remain, and all that may
 * follow is the end of the process. */
bool server_stop(server *s);

#endif
