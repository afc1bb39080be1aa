/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "page/routes.h"

#include <stdlib.h>
#include <string.h>

#include "app/cautions.h"
#include "app/json.h"
#include "page/asset.h"
#include "page/jobs.h"

/* A key of a body. */
typedef struct route_key {
    const char *key, *type, *meaning; /* a type that ends in "?" may be left out */
} route_key;

typedef struct route {
    server_method method;
    const char *path; /* a word in braces stands for any one part of a path */
    const char *summary, *answer;
    const route_key *keys; /* of the body; NULL = there is none */
    bool slow, text;       /* computed by a worker; the body is a file, not JSON */
    page_view *view;
} route;

/* ------------------------------------------------------------------ the table */

#define SETUP_KEY                                                                                  \
    {                                                                                              \
        "setup", "setup", "the setup"                                                              \
    }
#define SEED_KEY                                                                                   \
    {                                                                                              \
        "seed", "count?", "whose random numbers are drawn; 1"                                      \
    }
#define DRAWS_KEY                                                                                  \
    {                                                                                              \
        "draws", "count?", "profiles drawn from the errors, 200 to 10000; 400"                     \
    }
#define SWINGS_KEY                                                                                 \
    {                                                                                              \
        "swings", "count?", "swings drawn, 100 to 20000; 400"                                      \
    }
#define JIG_KEYS                                                                                   \
    {"clamp", "length or list?", "butt in the clamp; up to 8 make a table"},                       \
        {"tip_mass", "mass or list?", "on the tip for the cpm, 0: the built club; up to 8"},       \
        {"torque", "torque?", "at the tip for the twist"},                                         \
        {"load", "force?", "across the tip for the static bend"},                                  \
        {"span", "length?", "of the three-point bend"}, {"span_load", "force?", "in its middle"},  \
    {                                                                                              \
        "modes", "count?", "frequencies to list"                                                   \
    }
#define END_KEY                                                                                    \
    {                                                                                              \
        NULL, NULL, NULL                                                                           \
    }

static const route_key keys_setup[] = {SETUP_KEY, END_KEY};
static const route_key keys_swings[] = {{"setups", "list of setups", "1 to 6"}, END_KEY};
static const route_key keys_bench[] = {SETUP_KEY, JIG_KEYS, END_KEY};
static const route_key keys_profile[] = {
    {"readings", "readings", "the readings file"},
    {"without", "list?", "readings to leave out, each {file, line}"},
    END_KEY};
static const route_key keys_none[] = {END_KEY};
static const route_key keys_job[] = {{"run", "word", "what is run, one of `runs`"},
                                     {"ask", "object", "what that run asks for"},
                                     END_KEY};
static const route_key keys_file[] = {{"", "text", "the file itself, application/yaml"}, END_KEY};

static page_view view_interface;

static const route routes[] = {
    {SERVER_GET, "/api/v1", "Describes this interface", "this", NULL, false, false, view_interface},
    {SERVER_GET, "/api/v1/fields", "What every value of a result is called, its unit and meaning",
     "by kind, as caber fields --json", NULL, false, false, view_fields},
    {SERVER_GET, "/api/v1/units", "The units that texts may have",
     "a list; SI = number times/over + zero", NULL, false, false, view_units},
    {SERVER_GET, "/api/v1/files", "The files of the models and of the user's folder",
     "files: a list of {folder, kind, file, name, note}, with `problem` for one that cannot be "
     "read",
     NULL, true, false, view_files},
    {SERVER_GET, "/api/v1/files/{folder}/{kind}/{file}", "One file as it is",
     "{folder, kind, file, text}", NULL, false, false, view_file},
    {SERVER_PUT, "/api/v1/files/user/setup/{file}",
     "Keeps a setup in the user's folder, once it can be read as one",
     "{folder, kind, file, created}", keys_file, true, true, view_keep},
    {SERVER_POST, "/api/v1/inputs", "Every input of a setup: its value, unit, range and meaning",
     "{setup, shaft, head, grip, player, inputs: [{path, value, unit, least, most, meaning, used, "
     "words}], text: the setup as one file}",
     keys_setup, true, false, view_inputs},
    {SERVER_POST, "/api/v1/swing", "One downswing and its ball, and a straight club's",
     "as caber swing --json", keys_setup, true, false, view_swing},
    {SERVER_POST, "/api/v1/swings", "Several setups swung as they are", "a list, each as of swing",
     keys_swings, true, false, view_swings},
    {SERVER_POST, "/api/v1/series", "One downswing through time",
     "numbers of ten digits; columns: by name as in fields.series, as caber swing --series; "
     "places_m: along the shaft from the tip; moment_nm, curvature_per_m, and the shape: trail_mm, "
     "behind the handle axis in the "
     "swing plane, and out_of_plane_mm, along its normal: a row a time, in it a number a place",
     keys_setup, true, false, view_series},
    {SERVER_POST, "/api/v1/shaft", "The shaft's profile with its bands and sections",
     "stations: as measured, sd in per cent or null; sections; curve: columns with the sections in",
     keys_setup, true, false, view_shaft},
    {SERVER_POST, "/api/v1/profile", "A profile through bench readings, and how they agree",
     "as caber profile --json", keys_profile, true, false, view_profile},
    {SERVER_POST, "/api/v1/load", "The player's inputs and the load program as curves",
     "{player, inputs: as of inputs, time_s, curves: {hub, grip, roll: {unit, value}}}", keys_setup,
     true, false, view_load},
    {SERVER_POST, "/api/v1/bench", "What a workshop would measure", "as caber bench --json",
     keys_bench, true, false, view_bench},
    {SERVER_POST, "/api/v1/trims", "What cutting the tip does",
     "as caber bench --trim-table --json", keys_bench, true, false, view_trims},
    {SERVER_GET, "/api/v1/jobs", "The jobs that are kept",
     "jobs: a list of {job, run, state, done, total}", NULL, false, false, view_jobs},
    {SERVER_POST, "/api/v1/jobs", "Begins a long run", "202, {job, run}, and its Location",
     keys_job, false, false, view_job_begin},
    {SERVER_GET, "/api/v1/jobs/{job}", "How a job stands",
     "{job, run, state: waiting, running, done, failed or cancelled, done, total}", NULL, false,
     false, view_job},
    {SERVER_GET, "/api/v1/jobs/{job}/events", "The course of a job as a stream of events",
     "text/event-stream: progress, and last end, each with what the job says of itself", NULL,
     false, false, view_job_events},
    {SERVER_GET, "/api/v1/jobs/{job}/result", "What a job has found, or why it failed",
     "as its command prints with --json; 409 before its end", NULL, false, false, view_job_result},
    {SERVER_POST, "/api/v1/jobs/{job}/cancel", "Ends a job early", "as of the job", keys_none,
     false, false, view_job_cancel},
};

enum { ROUTE_COUNT = sizeof routes / sizeof *routes };

/* What POST /api/v1/jobs may run. */
static const route_key run_scatter[] = {{"setups", "list of setups", "1 or 2"},
                                        SWINGS_KEY,
                                        SEED_KEY,
                                        {"fairway", "length?", "its width; 30 m"},
                                        END_KEY};
static const route_key run_compare[] = {
    {"setups", "list of setups", "2 to 6"},
    {"keep", "word?", "what all have in common: load or delivery; load"},
    SWINGS_KEY,
    SEED_KEY,
    END_KEY};
static const route_key run_uncertainty[] = {SETUP_KEY, DRAWS_KEY, SEED_KEY, END_KEY};
static const route_key run_bench[] = {SETUP_KEY, JIG_KEYS, DRAWS_KEY, SEED_KEY, END_KEY};
static const route_key run_sensitivity[] = {
    SETUP_KEY, {"parts", "count?", "into how many the shaft is cut, 2 to 50; 10"}, END_KEY};

static const struct {
    const char *name, *answer;
    const route_key *keys;
} runs[] = {
    {"scatter", "as caber scatter --json, and landing_points", run_scatter},
    {"compare", "as caber compare --json", run_compare},
    {"uncertainty", "as caber swing --uncertainty --json", run_uncertainty},
    {"bench_uncertainty", "as caber bench --uncertainty --json", run_bench},
    {"sensitivity", "as caber swing --sensitivity --json", run_sensitivity},
};

static const route_key types[] = {
    {"setup", "object",
     "{folder: \"models\" (the default) or \"user\", file: NAME.yaml, or text in place of file: a "
     "setup "
     "file; parts?: {shaft, head, grip, player: {folder, file}}; set?: {PATH: VALUE} as --set has "
     "it, "
     "such as {\"load.grip.rise\": \"0.05 s\"}}"},
    {"readings", "object", "{folder, file, set?}"},
    {"length, mass, torque, force", "number or text",
     "a number is in SI (m, kg, N m, N); a text has its unit, one of units"},
    {"count", "number", "a whole number"},
    END_KEY};

/* ------------------------------------------------------------------ the description */

static json_t *keys_json(const route_key *keys)
{
    json_t *list = json_array();
    for (; keys && keys->key; keys++) {
        const size_t length = strlen(keys->type);
        const bool open = length && keys->type[length - 1] == '?';
        json_array_append_new(list, json_pack("{ss ss% sb ss}", "key", keys->key, "type",
                                              keys->type, length - open, "required", (int)!open,
                                              "meaning", keys->meaning));
    }
    return list;
}

static json_t *routes_json(void)
{
    json_t *list = json_array();
    for (size_t i = 0; i < ROUTE_COUNT; i++) {
        const route *r = &routes[i];
        json_array_append_new(list,
                              json_pack("{ss ss ss ss so}", "method", server_method_name(r->method),
                                        "path", r->path, "summary", r->summary, "answer", r->answer,
                                        "body", r->keys ? keys_json(r->keys) : json_null()));
    }
    return list;
}

static json_t *runs_json(void)
{
    json_t *list = json_array();
    for (size_t i = 0; i < sizeof runs / sizeof *runs; i++)
        json_array_append_new(list, json_pack("{ss ss so}", "run", runs[i].name, "answer",
                                              runs[i].answer, "ask", keys_json(runs[i].keys)));
    return list;
}

static json_t *cautions_json(void)
{
    const char *const *const all[] = {cautions_all, cautions_bench, cautions_trims,
                                      cautions_profile, cautions_rules};
    return json_app_sentences(all, sizeof all / sizeof *all);
}

static json_t *limits_json(const server_settings *s)
{
    return json_pack("{si si si sI sf sf sf si si si si}", "connections", s->connections,
                     "waiting_requests", s->queue, "streams", s->streams, "body_bytes",
                     (json_int_t)s->body, "receive_s", s->receive, "compute_s", s->compute,
                     "send_s", s->send, "jobs_kept", (int)JOBS_MOST, "jobs_waiting",
                     (int)JOBS_WAITING, "job_s", (int)JOBS_SECONDS, "setups", (int)ASK_SETUPS);
}

static void view_interface(page *p, const page_ask *ask, server_reply *out)
{
    (void)ask;
    reply_json(
        out, REPLY_FINE,
        json_pack(
            "{ss ss si so ss ss so so so so}", "program", "caber", "version", caber_version(),
            "interface", 1, "cautions", cautions_json(), "results",
            "every answer is {result, notes, cautions}: a result has the keys and units that the "
            "command prints with --json, a unit being the end of its key; notes is what the "
            "command "
            "says beside it",
            "errors",
            "{error: {message, file, line, column, field}}, null for what is not known. 400 no "
            "JSON; "
            "403 another page asks; 404 nothing there; 405 no such method; 409 not now; 413 too "
            "large; "
            "415 not that type; 421 wrong Host; 422 a value is not allowed or the computation "
            "could "
            "not finish; 503 busy: try again; 504 took too long",
            "types", keys_json(types), "routes", routes_json(), "runs", runs_json(), "limits",
            limits_json(&p->limits)));
}

/* ------------------------------------------------------------------ finding */

/* Whether a path is that of a route; its words in braces go into `words` (NULL = nowhere). */
static bool route_matches(const char *pattern, const char *path, char (*words)[128])
{
    int word = 0;
    while (*pattern && *path) {
        if (*pattern != '{') {
            if (*pattern++ != *path++)
                return false;
            continue;
        }
        const size_t length = strcspn(path, "/");
        if (length == 0 || length >= sizeof *words)
            return false;
        if (words) {
            memcpy(words[word], path, length);
            words[word][length] = '\0';
        }
        word++;
        path += length;
        pattern = strchr(pattern, '}') + 1;
    }
    return !*pattern && !*path;
}

static const asset *asset_find(const char *path)
{
    if (strcmp(path, "/") == 0)
        path = "/index.html";
    for (size_t i = 0; i < asset_count; i++)
        if (*assets[i].type && strcmp(assets[i].path, path) == 0)
            return &assets[i];
    return NULL;
}

/* Stands for the page, built or not. */
static const route page_route = {.method = SERVER_GET, .path = "/"};

server_way routes_find(void *context, server_method method, const char *path)
{
    server_way way = {.route = NULL};
    (void)context;
    for (size_t i = 0; i < ROUTE_COUNT; i++) {
        const route *r = &routes[i];
        if (!route_matches(r->path, path, NULL))
            continue;
        way.methods |= 1u << r->method;
        if (r->method != method)
            continue;
        way.route = r;
        way.slow = r->slow;
        way.type = !r->keys ? NULL : r->text ? "application/yaml" : reply_json_type;
    }
    if (!way.methods && (strcmp(path, "/") == 0 || asset_find(path)))
        way = (server_way){.route = &page_route, .methods = 1u << SERVER_GET};
    return way;
}

/* ------------------------------------------------------------------ answering */

static const char no_page[] =
    "<!DOCTYPE html>\n<html lang=\"en\">\n<head><meta "
    "charset=\"utf-8\"><title>caber</title></head>\n"
    "<body>\n<h1>caber</h1>\n<p>The page was not built into this program. What it would talk to is "
    "there, and described at <a href=\"/api/v1\">/api/v1</a>.</p>\n</body>\n</html>\n";

static void answer_asset(const char *path, server_reply *out)
{
    const asset *a = asset_find(path);
    out->status = REPLY_FINE;
    out->type = a ? a->type : "text/html; charset=utf-8";
    out->constant = a ? a->bytes : no_page;
    out->size = a ? a->size : sizeof no_page - 1;
}

void routes_answer(void *context, const void *which, const server_request *request,
                   server_reply *reply)
{
    page *p = context;
    const route *r = which;
    page_ask ask = {.text = request->body, .size = request->size};
    json_t *body = NULL;
    if (r == &page_route) {
        answer_asset(request->path, reply);
        return;
    }
    route_matches(r->path, request->path, ask.words);
    if (r->keys && !r->text && !ask_parse(request->body, request->size, &body, reply))
        return;
    ask.body = body;
    r->view(p, &ask, reply);
    json_decref(body);
}

static void refuse(int status, const char *reason, server_reply *reply)
{
    reply_error(reply, status, "%s", reason);
}

static long stream(void *context, void *listener, char *to, size_t size)
{
    return jobs_hear(((page *)context)->jobs, listener, to, size);
}

static bool ready(void *context, void *listener)
{
    return jobs_has_news(((page *)context)->jobs, listener);
}

static void leave(void *context, void *listener)
{
    (void)context;
    free(listener);
}

server_hooks routes_hooks(page *p)
{
    return (server_hooks){.context = p,
                          .find = routes_find,
                          .answer = routes_answer,
                          .refuse = refuse,
                          .stream = stream,
                          .ready = ready,
                          .leave = leave};
}
