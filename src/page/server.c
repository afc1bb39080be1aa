/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * An exchange is one request with its answer. It passes through the states below; every change of state is
 * made under the server's lock, and whoever makes one of ASLEEP to ANSWERED wakes the connection, once. */
#define _GNU_SOURCE /* accept4 flags of sockets */
#include "page/server.h"

#include <arpa/inet.h>
#include <errno.h>
#include <math.h>
#include <microhttpd.h>
#include <netinet/in.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "base/message.h"

/* Memory of the library for one connection: its headers must fit. */
enum { HEADER_BYTES = 16 << 10, PATH_MOST = 512 };
/* Beyond the limit of a body a client is read for so much more, to hear why it is refused. */
enum { PATIENCE = 4 };
/* When the server stops, a request that has begun has so long to arrive, s; and, when nearly all connections are
 * taken, one that has not begun. */
static const double last_call = 1;
/* Streams say something at least so often, s: so a client that has gone is found. */
static const double heartbeat = 10;

typedef enum exchange_state {
    EXCHANGE_READING,
    EXCHANGE_QUEUED,  /* asleep, waits for a worker */
    EXCHANGE_WORKING, /* asleep, a worker computes */
    EXCHANGE_ANSWERED,
    EXCHANGE_SENDING,
    EXCHANGE_STREAMING,
    EXCHANGE_STREAM_ASLEEP
} exchange_state;

typedef struct exchange exchange;
typedef struct caller caller;
struct exchange {
    server *server;
    struct MHD_Connection *connection;
    exchange *next, *before; /* of all of them */
    exchange *behind;        /* in the queue */
    exchange_state state;
    int holds;      /* the connection, and the worker that computes: the last to leave frees it */
    caller *caller; /* NULL when there was no memory for one */
    double since;   /* of the state */
    double heard;   /* when a stream last wrote */
    server_way way;
    server_request request;
    char path[PATH_MOST];
    char *body;
    size_t size, room, seen; /* seen: all that came, kept or not */
    bool oversize;
    server_reply reply;
};

/* A connection, for the clock: its socket, and since when it owes us a request. */
struct caller {
    caller *next, *before;
    int socket;
    bool owes;
    double since;
};

struct server {
    server_settings settings;
    server_hooks hooks;
    struct MHD_Daemon *daemon;
    int listening, port;
    char hosts[2][32]; /* "127.0.0.1:8000" */
    pthread_mutex_t lock;
    pthread_cond_t work, tick, calm; /* a request waits; the clock; something has ended */
    exchange *exchanges, *first, *last;
    caller *callers;
    int called, most; /* callers, and how many there may be */
    int queued, working, streams;
    bool stopping, clock_off;
    pthread_t clock, *workers;
    int started; /* workers */
};

static const char *const method_names[SERVER_METHODS] = {"GET", "POST", "PUT"};

const char *server_method_name(server_method method)
{
    return method_names[method];
}

server_settings server_settings_default(void)
{
    return (server_settings){.workers = 2,
                             .connections = 400,
                             .queue = 256,
                             .streams = 32,
                             .body = 1 << 20,
                             .receive = 8,
                             .compute = 30,
                             .send = 60,
                             .idle = 20,
                             .stop = 10};
}

static double seconds_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static struct timespec seconds_from_now(double seconds)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    const double at = (double)t.tv_nsec * 1e-9 + seconds;
    t.tv_sec += (time_t)floor(at);
    t.tv_nsec = (long)((at - floor(at)) * 1e9);
    return t;
}

/* ------------------------------------------------------------------ exchanges */

static exchange *exchange_create(server *s, struct MHD_Connection *connection)
{
    exchange *x = calloc(1, sizeof *x);
    if (!x)
        return NULL;
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    x->server = s;
    x->connection = connection;
    x->holds = 1;
    x->caller = info ? info->socket_context : NULL;
    pthread_mutex_lock(&s->lock);
    if (x->caller)
        x->caller->owes = false;
    x->since = seconds_now();
    x->next = s->exchanges;
    if (x->next)
        x->next->before = x;
    s->exchanges = x;
    pthread_mutex_unlock(&s->lock);
    return x;
}

/* With the lock held. */
static void exchange_unlink(exchange *x)
{
    if (x->before)
        x->before->next = x->next;
    else
        x->server->exchanges = x->next;
    if (x->next)
        x->next->before = x->before;
}

static void exchange_free(exchange *x)
{
    free(x->reply.body);
    free(x->body);
    free(x);
}

/* With the lock held. */
static void exchange_set(exchange *x, exchange_state state)
{
    x->state = state;
    x->since = seconds_now();
}

/* Takes a request out of the queue, wherever it stands; with the lock held. */
static void queue_remove(exchange *x)
{
    server *s = x->server;
    exchange **at = &s->first, *previous = NULL;
    while (*at && *at != x) {
        previous = *at;
        at = &(*at)->behind;
    }
    if (!*at)
        return;
    *at = x->behind;
    if (s->last == x)
        s->last = previous;
    s->queued--;
}

/* With the lock held. */
static void queue_append(exchange *x)
{
    server *s = x->server;
    x->behind = NULL;
    if (s->last)
        s->last->behind = x;
    else
        s->first = x;
    s->last = x;
    s->queued++;
    exchange_set(x, EXCHANGE_QUEUED);
    pthread_cond_signal(&s->work);
}

/* ------------------------------------------------------------------ sending */

/* Of every answer. Nothing may be fetched from anywhere else, and no other page may show or read this one. */
static const char *const headers[][2] = {
    {"Content-Security-Policy",
     "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src "
     "'self'; "
     "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"},
    {"X-Content-Type-Options", "nosniff"},
    {"X-Frame-Options", "DENY"},
    {"Referrer-Policy", "no-referrer"},
    {"Cross-Origin-Resource-Policy", "same-origin"},
    {"Cross-Origin-Opener-Policy", "same-origin"},
    {"Cache-Control", "no-store"},
};

static void add_allow(struct MHD_Response *response, unsigned methods)
{
    char text[64] = "";
    for (int m = 0; m < SERVER_METHODS; m++)
        if (methods >> m & 1) {
            if (*text)
                strcat(text, ", ");
            strcat(text, m == SERVER_GET ? "GET, HEAD" : method_names[m]);
        }
    MHD_add_response_header(response, "Allow", text);
}

static void add_headers(struct MHD_Response *response, const exchange *x)
{
    for (size_t i = 0; i < sizeof headers / sizeof *headers; i++)
        MHD_add_response_header(response, headers[i][0], headers[i][1]);
    if (x->reply.type)
        MHD_add_response_header(response, "Content-Type", x->reply.type);
    if (x->reply.location[0])
        MHD_add_response_header(response, "Location", x->reply.location);
    if (x->reply.status == MHD_HTTP_SERVICE_UNAVAILABLE)
        MHD_add_response_header(response, "Retry-After", "1");
    if (x->reply.status == MHD_HTTP_METHOD_NOT_ALLOWED)
        add_allow(response, x->way.methods);
    if (x->server->stopping)
        MHD_add_response_header(response, "Connection", "close");
}

static ssize_t stream_read(void *user, uint64_t position, char *to, size_t size)
{
    exchange *x = user;
    server *s = x->server;
    (void)position;
    long count = s->hooks.stream(s->hooks.context, x->reply.stream, to, size);
    pthread_mutex_lock(&s->lock);
    const double now = seconds_now();
    if (s->stopping && count == 0)
        count = -1;
    if (count == 0 && now - x->heard >= heartbeat && size >= 3) {
        memcpy(to, ":\n\n", 3); /* a comment */
        count = 3;
    }
    if (count > 0)
        x->heard = now;
    pthread_mutex_unlock(&s->lock);
    if (count < 0)
        return MHD_CONTENT_READER_END_OF_STREAM;
    if (count > 0)
        return (ssize_t)count;
    MHD_suspend_connection(x->connection);
    pthread_mutex_lock(&s->lock);
    exchange_set(x, EXCHANGE_STREAM_ASLEEP);
    pthread_mutex_unlock(&s->lock);
    return 0;
}

static struct MHD_Response *response_of(exchange *x)
{
    server_reply *r = &x->reply;
    if (r->stream)
        return MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, 2048, stream_read, x, NULL);
    if (r->constant)
        return MHD_create_response_from_buffer(r->size, (void *)(uintptr_t)r->constant,
                                               MHD_RESPMEM_PERSISTENT);
    struct MHD_Response *response =
        MHD_create_response_from_buffer(r->size, r->body ? r->body : (void *)(uintptr_t) "",
                                        r->body ? MHD_RESPMEM_MUST_FREE : MHD_RESPMEM_PERSISTENT);
    if (response)
        r->body = NULL;
    return response;
}

/* Hands the answer to the library. MHD_NO closes the connection. */
static enum MHD_Result exchange_send(exchange *x)
{
    struct MHD_Response *response = response_of(x);
    if (!response)
        return MHD_NO;
    add_headers(response, x);
    pthread_mutex_lock(&x->server->lock);
    x->heard = seconds_now();
    exchange_set(x, x->reply.stream ? EXCHANGE_STREAMING : EXCHANGE_SENDING);
    pthread_mutex_unlock(&x->server->lock);
    const enum MHD_Result sent =
        MHD_queue_response(x->connection, (unsigned)x->reply.status, response);
    MHD_destroy_response(response);
    return sent;
}

static enum MHD_Result exchange_refuse(exchange *x, int status, const char *reason)
{
    x->server->hooks.refuse(status, reason, &x->reply);
    return exchange_send(x);
}

/* ------------------------------------------------------------------ the head of a request */

typedef struct head_count {
    const char *name, *value;
    int count;
} head_count;

static enum MHD_Result head_look(void *user, enum MHD_ValueKind kind, const char *key,
                                 const char *value)
{
    head_count *h = user;
    (void)kind;
    if (strcasecmp(key, h->name) == 0) {
        h->count++;
        h->value = value ? value : "";
    }
    return MHD_YES;
}

/* The value of a header, and how often it stands there. */
static head_count head_of(const exchange *x, const char *name)
{
    head_count h = {name, NULL, 0};
    MHD_get_connection_values(x->connection, MHD_HEADER_KIND, head_look, &h);
    return h;
}

static bool is_own_host(const server *s, const char *host)
{
    return strcasecmp(host, s->hosts[0]) == 0 || strcasecmp(host, s->hosts[1]) == 0;
}

static bool is_own_origin(const server *s, const char *origin)
{
    static const char scheme[] = "http://";
    return strncasecmp(origin, scheme, sizeof scheme - 1) == 0 &&
           is_own_host(s, origin + sizeof scheme - 1);
}

/* Whether a body is of the wanted type; parameters behind it, such as the characters, are let pass. */
static bool is_type(const char *given, const char *wanted)
{
    const size_t length = strcspn(given, "; \t");
    return length == strlen(wanted) && strncasecmp(given, wanted, length) == 0;
}

/* Who asks. Returns 0, or the status that refuses it. */
static int check_caller(const exchange *x, const char **why)
{
    const head_count host = head_of(x, "Host"), origin = head_of(x, "Origin");
    const head_count site = head_of(x, "Sec-Fetch-Site");
    if (host.count != 1) {
        *why = "a request has one Host";
        return MHD_HTTP_BAD_REQUEST;
    }
    if (!is_own_host(x->server, host.value)) {
        *why = "the Host is not this server; open the address that it printed";
        return MHD_HTTP_MISDIRECTED_REQUEST;
    }
    if (origin.count > 1 || (origin.count && !is_own_origin(x->server, origin.value))) {
        *why = "only this server's own page may ask";
        return MHD_HTTP_FORBIDDEN;
    }
    /* A link on another page may open this one, but not ask it for results. */
    if (site.count && strcasecmp(site.value, "same-origin") && strcasecmp(site.value, "none") &&
        strncmp(x->path, "/api", 4) == 0) {
        *why = "only this server's own page may ask";
        return MHD_HTTP_FORBIDDEN;
    }
    return 0;
}

/* What follows the head. Returns 0, or the status that refuses it. */
static int check_body(const exchange *x, const char **why)
{
    const head_count type = head_of(x, "Content-Type"), coding = head_of(x, "Content-Encoding");
    const head_count length = head_of(x, "Content-Length");
    const head_count transfer = head_of(x, "Transfer-Encoding");
    const bool empty =
        !transfer.count && (!length.count || strspn(length.value, "0 ") == strlen(length.value));
    if (!x->way.type) {
        *why = "this request has no body";
        return empty ? 0 : MHD_HTTP_BAD_REQUEST;
    }
    if (type.count != 1 || !is_type(type.value, x->way.type) || coding.count) {
        *why = strcmp(x->way.type, "application/json") ? "the body must be application/yaml"
                                                       : "the body must be application/json";
        return MHD_HTTP_UNSUPPORTED_MEDIA_TYPE;
    }
    if (length.count > 1 || (length.count && transfer.count)) {
        *why = "the length of the body is not clear";
        return MHD_HTTP_BAD_REQUEST;
    }
    *why = "the body is larger than this server takes";
    return length.count && strtod(length.value, NULL) > (double)x->server->settings.body
               ? MHD_HTTP_CONTENT_TOO_LARGE
               : 0;
}

static enum MHD_Result exchange_begin(exchange *x, const char *url, const char *method)
{
    server *s = x->server;
    const char *why = "";
    int status = 0, m = strcmp(method, "HEAD") ? 0 : SERVER_GET;
    while (m < SERVER_METHODS && strcmp(method, "HEAD") && strcmp(method, method_names[m]))
        m++;
    if (strlen(url) >= sizeof x->path)
        return exchange_refuse(x, MHD_HTTP_URI_TOO_LONG, "the path is too long");
    strcpy(x->path, url);
    pthread_mutex_lock(&s->lock);
    const bool stopping = s->stopping;
    pthread_mutex_unlock(&s->lock);
    if (stopping)
        return exchange_refuse(x, MHD_HTTP_SERVICE_UNAVAILABLE, "the server is stopping");
    if ((status = check_caller(x, &why)))
        return exchange_refuse(x, status, why);
    x->request = (server_request){.method = (server_method)(m % SERVER_METHODS), .path = x->path};
    x->way = s->hooks.find(s->hooks.context, x->request.method, x->path);
    if (!x->way.methods)
        return exchange_refuse(x, MHD_HTTP_NOT_FOUND, "there is nothing at this path");
    if (m == SERVER_METHODS || !(x->way.methods >> m & 1))
        return exchange_refuse(x, MHD_HTTP_METHOD_NOT_ALLOWED, "this path has no such method");
    if ((status = check_body(x, &why)))
        return exchange_refuse(x, status, why);
    return MHD_YES;
}

/* ------------------------------------------------------------------ its body */

/* Keeps a piece of the body. MHD_NO ends the connection of a client that goes on and on. */
static enum MHD_Result exchange_take(exchange *x, const char *data, size_t *count)
{
    const size_t most = x->server->settings.body, more = *count;
    *count = 0;
    x->seen += more;
    if (x->oversize || more > most || x->size > most - more) {
        x->oversize = true;
        return x->seen / PATIENCE > most ? MHD_NO : MHD_YES;
    }
    if (x->size + more + 1 > x->room) {
        const size_t room = 2 * (x->size + more + 1);
        char *bytes = realloc(x->body, room);
        if (!bytes)
            return MHD_NO;
        x->body = bytes;
        x->room = room;
    }
    memcpy(x->body + x->size, data, more);
    x->size += more;
    x->body[x->size] = '\0';
    return MHD_YES;
}

static void exchange_answer(exchange *x, server_reply *reply)
{
    const server_hooks *h = &x->server->hooks;
    *reply = (server_reply){.status = 0};
    h->answer(h->context, x->way.route, &x->request, reply);
}

/* The streams are counted: each holds a connection for long. */
static bool stream_admit(exchange *x)
{
    server *s = x->server;
    pthread_mutex_lock(&s->lock);
    const bool good = s->streams < s->settings.streams;
    s->streams += good;
    pthread_mutex_unlock(&s->lock);
    if (good)
        return true;
    s->hooks.leave(s->hooks.context, x->reply.stream);
    x->reply.stream = NULL;
    return false;
}

/* The request is whole. */
static enum MHD_Result exchange_finish(exchange *x)
{
    server *s = x->server;
    x->request.body = x->body ? x->body : "";
    x->request.size = x->size;
    if (x->oversize)
        return exchange_refuse(x, MHD_HTTP_CONTENT_TOO_LARGE,
                               "the body is larger than this server takes");
    if (!x->way.slow) {
        exchange_answer(x, &x->reply);
        if (x->reply.stream && !stream_admit(x))
            return exchange_refuse(x, MHD_HTTP_SERVICE_UNAVAILABLE, "too many listen already");
        return exchange_send(x);
    }
    pthread_mutex_lock(&s->lock);
    const bool full = s->queued >= s->settings.queue;
    pthread_mutex_unlock(&s->lock);
    /* Only this thread adds to the queue, so there is still room. */
    if (full)
        return exchange_refuse(x, MHD_HTTP_SERVICE_UNAVAILABLE, "too much is being computed");
    MHD_suspend_connection(x->connection);
    pthread_mutex_lock(&s->lock);
    queue_append(x);
    pthread_mutex_unlock(&s->lock);
    return MHD_YES;
}

static enum MHD_Result on_request(void *user, struct MHD_Connection *connection, const char *url,
                                  const char *method, const char *version, const char *data,
                                  size_t *count, void **own)
{
    exchange *x = *own;
    (void)version;
    if (!x) {
        *own = x = exchange_create(user, connection);
        return x ? exchange_begin(x, url, method) : MHD_NO;
    }
    if (x->state == EXCHANGE_ANSWERED)
        return exchange_send(x);
    if (x->state != EXCHANGE_READING)
        return MHD_YES;
    return *count ? exchange_take(x, data, count) : exchange_finish(x);
}

/* ------------------------------------------------------------------ connections come and go */

static void on_completed(void *user, struct MHD_Connection *connection, void **own,
                         enum MHD_RequestTerminationCode code)
{
    server *s = user;
    exchange *x = *own;
    (void)code;
    (void)connection;
    *own = NULL;
    if (!x)
        return;
    void *stream = x->reply.stream;
    pthread_mutex_lock(&s->lock);
    exchange_unlink(x);
    if (x->caller) {
        x->caller->owes = true;
        x->caller->since = seconds_now();
    }
    s->streams -= stream != NULL;
    const bool last = --x->holds == 0;
    pthread_cond_broadcast(&s->calm);
    pthread_mutex_unlock(&s->lock);
    if (stream)
        s->hooks.leave(s->hooks.context, stream);
    if (last)
        exchange_free(x);
}

static void on_connection(void *user, struct MHD_Connection *connection, void **own,
                          enum MHD_ConnectionNotificationCode code)
{
    server *s = user;
    caller *c = *own;
    pthread_mutex_lock(&s->lock);
    if (code == MHD_CONNECTION_NOTIFY_STARTED && (c = calloc(1, sizeof *c))) {
        c->socket =
            MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD)->connect_fd;
        c->owes = true;
        c->since = seconds_now();
        c->next = s->callers;
        if (c->next)
            c->next->before = c;
        s->callers = c;
        s->called++;
        *own = c;
    } else if (code == MHD_CONNECTION_NOTIFY_CLOSED && c) {
        if (c->before)
            c->before->next = c->next;
        else
            s->callers = c->next;
        if (c->next)
            c->next->before = c->before;
        s->called--;
        free(c);
        *own = NULL;
    }
    pthread_mutex_unlock(&s->lock);
}

/* Whether the client has closed the connection: nobody is left to compute for. With the lock held. */
static bool is_gone(const exchange *x)
{
    char byte;
    return x->caller && recv(x->caller->socket, &byte, 1, MSG_PEEK | MSG_DONTWAIT) == 0;
}

/* ------------------------------------------------------------------ workers */

/* Puts the answer where it belongs, or drops it when it comes too late. */
static void work_deliver(exchange *x, server_reply *reply)
{
    server *s = x->server;
    pthread_mutex_lock(&s->lock);
    s->working--;
    const bool wanted = x->state == EXCHANGE_WORKING, last = --x->holds == 0;
    if (wanted) {
        x->reply = *reply;
        exchange_set(x, EXCHANGE_ANSWERED);
    }
    pthread_cond_broadcast(&s->calm);
    pthread_mutex_unlock(&s->lock);
    if (wanted) {
        MHD_resume_connection(x->connection);
        return;
    }
    free(reply->body);
    if (last)
        exchange_free(x);
}

static void *work(void *user)
{
    server *s = user;
    pthread_mutex_lock(&s->lock);
    for (;;) {
        while (!s->first && !s->stopping)
            pthread_cond_wait(&s->work, &s->lock);
        exchange *x = s->first;
        if (!x)
            break;
        queue_remove(x);
        const bool gone = is_gone(x);
        exchange_set(x, EXCHANGE_WORKING);
        x->holds++;
        s->working++;
        pthread_mutex_unlock(&s->lock);
        server_reply reply = {0};
        if (gone)
            s->hooks.refuse(MHD_HTTP_SERVICE_UNAVAILABLE, "nobody listens", &reply);
        else
            exchange_answer(x, &reply);
        work_deliver(x, &reply);
        pthread_mutex_lock(&s->lock);
    }
    pthread_mutex_unlock(&s->lock);
    return NULL;
}

/* ------------------------------------------------------------------ the clock */

/* Whether the exchange is to be woken; with the lock held. */
static bool clock_look(exchange *x, double now)
{
    server *s = x->server;
    if (x->state == EXCHANGE_STREAM_ASLEEP && (s->stopping || now - x->heard >= heartbeat ||
                                               s->hooks.ready(s->hooks.context, x->reply.stream))) {
        exchange_set(x, EXCHANGE_STREAMING);
        return true;
    }
    const bool waits = x->state == EXCHANGE_QUEUED, works = x->state == EXCHANGE_WORKING;
    const bool late = now - x->since >= s->settings.compute;
    if (!(waits && (late || is_gone(x))) && !(works && late))
        return false;
    if (waits)
        queue_remove(x);
    s->hooks.refuse(waits ? MHD_HTTP_SERVICE_UNAVAILABLE : MHD_HTTP_GATEWAY_TIMEOUT,
                    waits ? "too much is being computed"
                          : "the computation took too long; it may be run as a job",
                    &x->reply);
    exchange_set(x, EXCHANGE_ANSWERED);
    return true;
}

/* Closes connections whose request or whose taking of the answer lasts too long: what the library sees of
 * them is the end of the stream. The socket is ours to touch while the caller is in the list. */
static void clock_close(server *s, double now)
{
    const server_settings *t = &s->settings;
    const double receive = s->stopping ? fmin(last_call, t->receive) : t->receive;
    const double silence = s->called > s->most - s->most / 8 ? last_call : t->receive + t->idle;
    for (caller *c = s->callers; c; c = c->next)
        if (c->owes && now - c->since > silence)
            shutdown(c->socket, SHUT_RDWR);
    for (exchange *x = s->exchanges; x; x = x->next) {
        const double lasts = now - x->since;
        if (x->caller && ((x->state == EXCHANGE_READING && lasts > receive) ||
                          (x->state == EXCHANGE_SENDING && lasts > t->send)))
            shutdown(x->caller->socket, SHUT_RDWR);
    }
}

static void *clock_run(void *user)
{
    server *s = user;
    pthread_mutex_lock(&s->lock);
    while (!s->clock_off) {
        const struct timespec next = seconds_from_now(0.05);
        pthread_cond_timedwait(&s->tick, &s->lock, &next);
        const double now = seconds_now();
        clock_close(s, now);
        exchange *x = s->exchanges;
        while (x) {
            if (!clock_look(x, now)) {
                x = x->next;
                continue;
            }
            /* It may be gone once it is awake; the list may have changed. */
            struct MHD_Connection *connection = x->connection;
            pthread_mutex_unlock(&s->lock);
            MHD_resume_connection(connection);
            pthread_mutex_lock(&s->lock);
            x = s->exchanges;
        }
    }
    pthread_mutex_unlock(&s->lock);
    return NULL;
}

/* ------------------------------------------------------------------ beginning and end */

/* Opens the port of the loopback interface. Returns the socket, or -1 with errno. */
static int listen_on(int *port)
{
    struct sockaddr_in at = {.sin_family = AF_INET, .sin_port = htons((uint16_t)*port)};
    socklen_t size = sizeof at;
    const int yes = 1, fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    if (fd < 0)
        return -1;
    setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    if (bind(fd, (struct sockaddr *)&at, sizeof at) || listen(fd, 256) ||
        getsockname(fd, (struct sockaddr *)&at, &size)) {
        const int reason = errno;
        close(fd);
        errno = reason;
        return -1;
    }
    *port = ntohs(at.sin_port);
    return fd;
}

/* No more connections than files may be open. */
static int connections_most(int wanted)
{
    struct rlimit files;
    enum { OTHERS = 64 };
    if (getrlimit(RLIMIT_NOFILE, &files) || files.rlim_cur == RLIM_INFINITY)
        return wanted;
    const double most = (double)files.rlim_cur - OTHERS;
    return most < 8 ? 8 : most < wanted ? (int)most : wanted;
}

static void server_free(server *s)
{
    pthread_cond_destroy(&s->calm);
    pthread_cond_destroy(&s->tick);
    pthread_cond_destroy(&s->work);
    pthread_mutex_destroy(&s->lock);
    if (s->listening >= 0)
        close(s->listening);
    free(s->workers);
    free(s);
}

static server *server_create(const server_settings *settings, const server_hooks *hooks)
{
    server *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    s->settings = *settings;
    s->hooks = *hooks;
    s->listening = -1;
    pthread_mutex_init(&s->lock, NULL);
    pthread_condattr_t clock;
    pthread_condattr_init(&clock);
    pthread_condattr_setclock(&clock, CLOCK_MONOTONIC);
    pthread_cond_init(&s->work, &clock);
    pthread_cond_init(&s->tick, &clock);
    pthread_cond_init(&s->calm, &clock);
    pthread_condattr_destroy(&clock);
    s->workers = calloc((size_t)settings->workers, sizeof *s->workers);
    if (s->workers)
        return s;
    server_free(s);
    return NULL;
}

/* Ends the workers and the clock. */
static void server_join(server *s)
{
    pthread_mutex_lock(&s->lock);
    s->stopping = s->clock_off = true;
    pthread_cond_broadcast(&s->work);
    pthread_cond_broadcast(&s->tick);
    pthread_mutex_unlock(&s->lock);
    for (int i = 0; i < s->started; i++)
        pthread_join(s->workers[i], NULL);
    pthread_join(s->clock, NULL);
}

static bool server_start_threads(server *s)
{
    if (pthread_create(&s->clock, NULL, clock_run, s))
        return false;
    while (s->started < s->settings.workers &&
           pthread_create(&s->workers[s->started], NULL, work, s) == 0)
        s->started++;
    if (s->started)
        return true;
    server_join(s);
    return false;
}

static struct MHD_Daemon *server_daemon(server *s)
{
    return MHD_start_daemon(
        MHD_USE_EPOLL_INTERNAL_THREAD | MHD_ALLOW_SUSPEND_RESUME | MHD_USE_ITC, 0, NULL, NULL,
        on_request, s, MHD_OPTION_LISTEN_SOCKET, s->listening, MHD_OPTION_CONNECTION_LIMIT,
        (unsigned)s->most, MHD_OPTION_CONNECTION_TIMEOUT, (unsigned)s->settings.idle,
        MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t)HEADER_BYTES, MHD_OPTION_NOTIFY_COMPLETED,
        on_completed, s, MHD_OPTION_NOTIFY_CONNECTION, on_connection, s, MHD_OPTION_END);
}

caber_status server_start(const server_settings *settings, const server_hooks *hooks, server **out,
                          caber_message *message)
{
    server *s = *out = server_create(settings, hooks);
    if (!s)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    s->port = settings->port;
    s->most = connections_most(settings->connections);
    s->listening = listen_on(&s->port);
    if (s->listening < 0) {
        const caber_status status =
            message_set(message, CABER_IO_ERROR, "port %d of 127.0.0.1 cannot be had: %s",
                        settings->port, strerror(errno));
        server_free(s);
        *out = NULL;
        return status;
    }
    snprintf(s->hosts[0], sizeof s->hosts[0], "127.0.0.1:%d", s->port);
    snprintf(s->hosts[1], sizeof s->hosts[1], "localhost:%d", s->port);
    const bool threads = server_start_threads(s);
    s->daemon = threads ? server_daemon(s) : NULL;
    if (s->daemon)
        return message_clear(message);
    if (threads)
        server_join(s);
    server_free(s);
    *out = NULL;
    return message_set(message, CABER_NO_MEMORY, "the server cannot be started");
}

int server_port(const server *s)
{
    return s->port;
}

/* Waits until nothing is under way, or so long. */
static void server_calm(server *s, double seconds)
{
    const struct timespec end = seconds_from_now(seconds);
    pthread_mutex_lock(&s->lock);
    while ((s->exchanges || s->working) &&
           pthread_cond_timedwait(&s->calm, &s->lock, &end) != ETIMEDOUT)
        continue;
    pthread_mutex_unlock(&s->lock);
}

/* What still waits for a worker is refused. */
static void server_refuse_queue(server *s)
{
    pthread_mutex_lock(&s->lock);
    for (exchange *x; (x = s->first);) {
        queue_remove(x);
        s->hooks.refuse(MHD_HTTP_SERVICE_UNAVAILABLE, "the server is stopping", &x->reply);
        exchange_set(x, EXCHANGE_ANSWERED);
        pthread_mutex_unlock(&s->lock);
        MHD_resume_connection(x->connection);
        pthread_mutex_lock(&s->lock);
    }
    pthread_mutex_unlock(&s->lock);
}

bool server_stop(server *s)
{
    pthread_mutex_lock(&s->lock);
    s->stopping = true;
    pthread_cond_broadcast(&s->work);
    pthread_mutex_unlock(&s->lock);
    /* The library lets go of the socket in its own time: it is closed at the end. */
    MHD_quiesce_daemon(s->daemon);
    shutdown(s->listening, SHUT_RDWR);
    server_calm(s, s->settings.stop);
    server_refuse_queue(s);
    server_calm(s, 0.2);
    pthread_mutex_lock(&s->lock);
    const bool working = s->working > 0;
    pthread_mutex_unlock(&s->lock);
    if (working)
        return false;
    server_join(s);
    MHD_stop_daemon(s->daemon);
    server_free(s);
    return true;
}
