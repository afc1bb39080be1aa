/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Thousands of damaged requests from fixed seeds, without sockets: whatever path and body, the answer has a
 * status, is JSON in the form that is promised, and names no file outside the two folders. Under the sanitizers
 * nothing is touched or leaked either. */
#include "check.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/app.h"
#include "damage.h"
#include "page/jobs.h"
#include "page/routes.h"

enum { ROUNDS = 1500 };

/* What main.c gives to the commands. */
const char *const app_name = "caber";

/* ------------------------------------------------------------------ a page without a server */

static page *open_page(char *folder)
{
    caber_message message;
    page *p = calloc(1, sizeof *p);
    assert_non_null(p);
    assert_non_null(mkdtemp(folder));
    if (folders_open(CABER_SOURCE_DIR "/models", folder, &p->folders, &message) != CABER_OK)
        fail_msg("%s", message.text);
    p->threads = 1;
    p->limits = server_settings_default();
    pthread_mutex_init(&p->keep, NULL);
    p->jobs = jobs_create(p);
    assert_non_null(p->jobs);
    return p;
}

static void close_page(page *p, const char *folder)
{
    char command[256];
    jobs_stop(p->jobs);
    assert_true(jobs_free(p->jobs, 60));
    folders_close(&p->folders);
    pthread_mutex_destroy(&p->keep);
    free(p);
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    assert_int_equal(system(command), 0);
}

/* Either a result or an error, and nothing of the machine in it. */
static void check_reply(const server_reply *reply, const char *folder)
{
    const char *text = reply->constant ? reply->constant : reply->body;
    assert_in_range(reply->status, 200, 504);
    assert_non_null(text);
    assert_null(strstr(text, "root:x:"));
    assert_null(strstr(text, folder));
    if (strcmp(reply->type, reply_json_type) != 0)
        return;
    json_error_t why;
    json_t *value = json_loadb(text, reply->size, 0, &why);
    assert_non_null(value);
    if (reply->status < 300)
        assert_true(json_object_get(value, "result") || json_object_get(value, "interface"));
    else
        assert_true(json_is_string(json_object_get(json_object_get(value, "error"), "message")));
    json_decref(value);
}

/* Sends a body of exactly its size, with the 0 behind that the server promises. */
static int ask(page *p, const char *folder, server_method method, const char *path,
               const buffer *body)
{
    const server_way way = routes_find(p, method, path);
    server_reply reply = {0};
    if (!way.route)
        return 404;
    char *exact = malloc(body->size + 1);
    assert_non_null(exact);
    memcpy(exact, body->bytes, body->size);
    exact[body->size] = '\0';
    const server_request request = {method, path, exact, body->size};
    routes_answer(p, way.route, &request, &reply);
    free(exact);
    if (reply.stream)
        free(reply.stream);
    else
        check_reply(&reply, folder);
    free(reply.body);
    return reply.status;
}

static const char *const bodies[] = {
    "{\"setup\": {\"file\": \"neutral-smooth.yaml\", \"set\": {\"load.grip.rise\": \"0.05 s\"}}}",
    "{\"setup\": {\"folder\": \"user\", \"file\": \"a.yaml\", \"parts\": {\"shaft\": {\"folder\": "
    "\"models\", \"file\": \"neutral.yaml\"}}}}",
    "{\"setup\": {\"text\": \"kind: setup\\nshaft: ../../../etc/passwd\\n\"}}",
    "{\"setup\": {\"file\": \"neutral-smooth.yaml\", \"set\": {\"load.grip.table\": "
    "\"/etc/passwd\"}}}",
    "{\"readings\": {\"file\": \"../readings/neutral.yaml\"}, \"without\": [{\"file\": \"a\", "
    "\"line\": 3}]}",
    "{\"run\": \"scatter\", \"ask\": {\"setups\": [], \"swings\": 100, \"fairway\": \"30 m\"}}",
};
enum { BODIES = sizeof bodies / sizeof *bodies };

/* Views that are quick. */
static const char *const paths[] = {"/api/v1/load", "/api/v1/inputs", "/api/v1/shaft",
                                    "/api/v1/jobs", "/api/v1/jobs/1/cancel"};
enum { PATHS = sizeof paths / sizeof *paths };

static void test_damaged_bodies(void **state)
{
    (void)state;
    char folder[] = "/tmp/caber-requests-XXXXXX";
    page *p = open_page(folder);
    uint64_t random = 20260708;
    size_t fine = 0, refused = 0;
    for (int round = 0; round < ROUNDS; round++) {
        buffer b = {malloc(MOST_BYTES), 0};
        const char *from = bodies[round % BODIES];
        assert_non_null(b.bytes);
        b.size = strlen(from);
        memcpy(b.bytes, from, b.size);
        /* Each body as it is at first. */
        for (size_t n = round < (int)BODIES ? 0 : 1 + below(&random, 3); n > 0; n--)
            damage_once(&b, &random);
        const int status = ask(p, folder, SERVER_POST, paths[below(&random, PATHS)], &b);
        fine += status < 300;
        refused += status >= 400;
        free(b.bytes);
    }
    assert_true(fine > 0 && refused > ROUNDS / 2);
    close_page(p, folder);
}

static void test_damaged_setups_are_not_kept(void **state)
{
    (void)state;
    char folder[] = "/tmp/caber-requests-XXXXXX", inside[64];
    page *p = open_page(folder);
    uint64_t random = 42;
    static const char text[] = "kind: setup\nname: x\nshaft: ../../../../../../../../etc/passwd\n"
                               "head: /etc/passwd\ngrip: a.yaml\nplayer: b.yaml\n"
                               "build: {tip_trim: 12 mm, insertion: 30 mm, hold: 120 mm}\n";
    for (int round = 0; round < ROUNDS / 3; round++) {
        buffer b = {malloc(MOST_BYTES), sizeof text - 1};
        assert_non_null(b.bytes);
        memcpy(b.bytes, text, b.size);
        for (size_t n = round ? 1 + below(&random, 3) : 0; n > 0; n--)
            damage_once(&b, &random);
        assert_in_range(ask(p, folder, SERVER_PUT, "/api/v1/files/user/setup/kept.yaml", &b), 400,
                        503);
        free(b.bytes);
    }
    snprintf(inside, sizeof inside, "%s/kept.yaml", folder);
    assert_int_not_equal(access(inside, F_OK), 0);
    close_page(p, folder);
}

static void test_damaged_paths(void **state)
{
    (void)state;
    char folder[] = "/tmp/caber-requests-XXXXXX";
    page *p = open_page(folder);
    uint64_t random = 7;
    static const char *const starts[] = {"/api/v1/files/models/setup/neutral-smooth.yaml",
                                         "/api/v1/files/user/setup/a.yaml", "/api/v1/jobs/1/result",
                                         "/api/v1/jobs/12/events", "/"};
    for (int round = 0; round < ROUNDS; round++) {
        char path[512];
        buffer b = {malloc(MOST_BYTES), 0}, empty = {path, 0};
        assert_non_null(b.bytes);
        b.size = strlen(starts[round % 5]);
        memcpy(b.bytes, starts[round % 5], b.size);
        for (size_t n = below(&random, 4); n > 0; n--)
            damage_once(&b, &random);
        snprintf(path, sizeof path, "%.*s", (int)b.size, b.bytes);
        ask(p, folder, SERVER_GET, path, &empty);
        free(b.bytes);
    }
    close_page(p, folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_damaged_bodies),
                                       cmocka_unit_test(test_damaged_setups_are_not_kept),
                                       cmocka_unit_test(test_damaged_paths)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
