/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The files of both folders, the jobs, and the tables that say what things are called. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "app/fields.h"
#include "files/files.h"
#include "page/jobs.h"

/* ------------------------------------------------------------------ files */

void view_files(page *p, const page_ask *ask, server_reply *out)
{
    (void)ask;
    reply_result(out,
                 json_pack("{sb so}", "user_folder", p->folders.path[FOLDER_USER] != NULL, "files",
                           folders_list(&p->folders)),
                 NULL, NULL, NULL);
}

void view_file(page *p, const page_ask *ask, server_reply *out)
{
    caber_message message = {""};
    char *text;
    size_t size;
    const char *kind = ask->words[1], *name = ask->words[2];
    const int folder = folders_find(&p->folders, ask->words[0]);
    if (folder < 0 || !folders_has_kind(kind) || !folders_is_name(name)) {
        reply_error(out, REPLY_NOT_FOUND, "there is no such file");
        return;
    }
    const caber_status status =
        folders_read(&p->folders, folder, kind, name, &text, &size, &message);
    folders_shorten(&p->folders, &message);
    if (status != CABER_OK) {
        reply_error(out, REPLY_NOT_FOUND, "%.400s", message.text);
        return;
    }
    json_t *value = json_stringn(text, size);
    free(text);
    if (!value)
        reply_error(out, REPLY_WRONG, "%s: the file is not UTF-8", name);
    else
        reply_result(out,
                     json_pack("{ss ss ss so}", "folder", folder_names[folder], "kind", kind,
                               "file", name, "text", value),
                     NULL, NULL, NULL);
}

/* Whether the text is a setup that can be read from where it is to stand. */
static bool keep_check(page *p, const page_ask *ask, const char *name, server_reply *out)
{
    caber_setup *setup = NULL;
    caber_message message = {""};
    char *path = folders_path(&p->folders, FOLDER_USER, "setup", name);
    caber_status status = path ? files_read_text_within(&p->folders.fence, path, ask->text,
                                                        ask->size, NULL, 0, &setup, &message)
                               : CABER_NO_MEMORY;
    if (status == CABER_OK)
        status = ask_check_effort(setup, &message);
    caber_setup_free(setup);
    free(path);
    folders_shorten(&p->folders, &message);
    if (status != CABER_OK)
        reply_failed(out, status, &message);
    return status == CABER_OK;
}

void view_keep(page *p, const page_ask *ask, server_reply *out)
{
    caber_message message = {""};
    const char *name = ask->words[0];
    bool created;
    if (!p->folders.path[FOLDER_USER]) {
        reply_error(out, REPLY_NOT_FOUND,
                    "there is no folder to keep files in; start the server with --folder");
        return;
    }
    if (!folders_is_name(name)) {
        reply_wrong(out, "file", "the name of a file is wanted, NAME.yaml, without a folder");
        return;
    }
    if (!keep_check(p, ask, name, out))
        return;
    pthread_mutex_lock(&p->keep);
    const caber_status status =
        folders_keep(&p->folders, name, ask->text, ask->size, &created, &message);
    pthread_mutex_unlock(&p->keep);
    if (status != CABER_OK) {
        reply_failed(out, status, &message);
        return;
    }
    reply_json(out, created ? REPLY_CREATED : REPLY_FINE,
               json_pack("{s{ss ss ss sb} s[] s[]}", "result", "folder", "user", "kind", "setup",
                         "file", name, "created", (int)created, "notes", "cautions"));
}

/* ------------------------------------------------------------------ jobs */

/* The number of a job in a path; 0 = none. */
static unsigned job_number(const char *word)
{
    char *end;
    errno = 0;
    const unsigned long number = *word >= '1' && *word <= '9' ? strtoul(word, &end, 10) : 0;
    return number && !errno && !*end && number <= 0x7fffffff ? (unsigned)number : 0;
}

static void no_job(server_reply *out)
{
    reply_error(out, REPLY_NOT_FOUND, "there is no such job; the last ones only are kept");
}

void view_jobs(page *p, const page_ask *ask, server_reply *out)
{
    (void)ask;
    reply_result(out, json_pack("{so}", "jobs", jobs_list(p->jobs)), NULL, NULL, NULL);
}

void view_job(page *p, const page_ask *ask, server_reply *out)
{
    json_t *about = jobs_about(p->jobs, job_number(ask->words[0]));
    if (about)
        reply_result(out, about, NULL, NULL, NULL);
    else
        no_job(out);
}

void view_job_begin(page *p, const page_ask *ask, server_reply *out)
{
    static const char *const keys[] = {"run", "ask", NULL};
    static const struct {
        const char *name;
        page_view *view;
    } runs[] = {{"scatter", view_scatter},
                {"compare", view_compare},
                {"uncertainty", view_uncertainty},
                {"bench_uncertainty", view_bench_uncertainty},
                {"sensitivity", view_sensitivity}};
    enum { COUNT = sizeof runs / sizeof *runs };
    const char *words[COUNT + 1] = {NULL};
    json_t *body = json_object_get(ask->body, "ask");
    int which = -1;
    for (int i = 0; i < COUNT; i++)
        words[i] = runs[i].name;
    if (!ask_only(ask->body, "", keys, out) || !ask_word(ask->body, "run", words, &which, out))
        return;
    if (which < 0 || !json_is_object(body)) {
        reply_wrong(out, which < 0 ? "run" : "ask",
                    which < 0 ? "is missing" : "an object is wanted");
        return;
    }
    const unsigned number = jobs_add(p->jobs, runs[which].name, runs[which].view, body);
    if (!number) {
        reply_error(out, REPLY_BUSY, "%d jobs wait already", JOBS_WAITING);
        return;
    }
    snprintf(out->location, sizeof out->location, "/api/v1/jobs/%u", number);
    reply_json(out, REPLY_ACCEPTED,
               json_pack("{s{sI ss} s[] s[]}", "result", "job", (json_int_t)number, "run",
                         runs[which].name, "notes", "cautions"));
}

void view_job_cancel(page *p, const page_ask *ask, server_reply *out)
{
    static const char *const keys[] = {NULL};
    const unsigned number = job_number(ask->words[0]);
    if (!ask_only(ask->body, "", keys, out))
        return;
    const bool cancelled = jobs_cancel(p->jobs, number);
    json_t *about = jobs_about(p->jobs, number);
    if (about && cancelled) {
        reply_result(out, about, NULL, NULL, NULL);
        return;
    }
    json_decref(about);
    if (about)
        reply_error(out, REPLY_CONFLICT, "the job has ended");
    else
        no_job(out);
}

void view_job_result(page *p, const page_ask *ask, server_reply *out)
{
    const unsigned number = job_number(ask->words[0]);
    if (jobs_result(p->jobs, number, out))
        return;
    json_t *about = jobs_about(p->jobs, number);
    if (about)
        reply_error(out, REPLY_CONFLICT, "the job has not ended");
    else
        no_job(out);
    json_decref(about);
}

void view_job_events(page *p, const page_ask *ask, server_reply *out)
{
    out->stream = jobs_listen(p->jobs, job_number(ask->words[0]));
    if (!out->stream) {
        no_job(out);
        return;
    }
    out->status = REPLY_FINE;
    out->type = "text/event-stream";
}

/* ------------------------------------------------------------------ tables */

void view_fields(page *p, const page_ask *ask, server_reply *out)
{
    (void)p;
    (void)ask;
    reply_result(out, fields_all_json(), NULL, NULL, NULL);
}

void view_units(page *p, const page_ask *ask, server_reply *out)
{
    (void)p;
    (void)ask;
    reply_result(out, fields_units_json(), NULL, NULL, NULL);
}
