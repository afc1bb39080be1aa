/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The command line of a sweep, read, and written again with --resume. */
#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/given.h"
#include "app/sweep_parts.h"
#include "base/text.h"

enum { SHARDS_MOST = 100000 };

static app_exit settings_no_memory(void)
{
    app_say("out of memory");
    return APP_UNFINISHED;
}

/* ------------------------------------------------------------------ reading */

/* Reads "K/N". */
static bool settings_shard(const char *text, size_t *shard, size_t *shards)
{
    char *end;
    if (!isdigit((unsigned char)*text))
        return false;
    const unsigned long k = strtoul(text, &end, 10);
    if (*end != '/' || !isdigit((unsigned char)end[1]))
        return false;
    const unsigned long n = strtoul(end + 1, &end, 10);
    *shard = k;
    *shards = n;
    return !*end && k >= 1 && k <= n && n <= SHARDS_MOST;
}

static app_exit settings_path(sweep_settings *s)
{
    const char *given = s->given->text[OPTION_STUDY_FILE], *stem;
    size_t length;
    given_stem(given ? given : s->study, &stem, &length);
    if (given) {
        stem = given;
        length = strlen(given);
    }
    const size_t room = length + 64;
    if (!(s->path = malloc(room)))
        return settings_no_memory();
    if (given)
        snprintf(s->path, room, "%s", given);
    else if (s->shards > 1)
        snprintf(s->path, room, "%.*s.%zu-of-%zu.h5", (int)length, stem, s->shard, s->shards);
    else
        snprintf(s->path, room, "%.*s.h5", (int)length, stem);
    return APP_FINE;
}

app_exit sweep_settings_read(const options *given, const char *program, sweep_settings *out)
{
    const app_command *command = given->command;
    const char *const *text = given->text;
    *out = (sweep_settings){.given = given, .program = program, .study = given->operands[0]};
    out->shard = out->shards = 1;
    if (text[OPTION_RESUME] && text[OPTION_REPLACE])
        return app_misused(command, "--resume goes on and --replace begins anew: one of them");
    if (text[OPTION_PLAN] && (text[OPTION_RESUME] || text[OPTION_REPLACE]))
        return app_misused(command, "--plan writes nothing: leave out --%s",
                           text[OPTION_RESUME] ? "resume" : "replace");
    if (text[OPTION_STUDY_FILE] && !text_ends_with(text[OPTION_STUDY_FILE], ".h5"))
        return app_misused(command, "--output writes FILE.h5, not '%s'", text[OPTION_STUDY_FILE]);
    if (text[OPTION_SHARD] && !settings_shard(text[OPTION_SHARD], &out->shard, &out->shards))
        return app_misused(command, "--shard takes K/N, such as 1/8, with K from 1 to N, not '%s'",
                           text[OPTION_SHARD]);
    out->mode = text[OPTION_RESUME]    ? STORE_RESUME
                : text[OPTION_REPLACE] ? STORE_REPLACE
                                       : STORE_NEW;
    const app_exit rc =
        (app_exit)options_read_count(given, OPTION_THREADS, 1, CABER_THREADS_MOST, &out->threads);
    return rc == APP_FINE ? settings_path(out) : rc;
}

/* ------------------------------------------------------------------ writing */

/* A word as a shell reads it. */
static void settings_word(FILE *out, const char *word)
{
    static const char plain[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
                                "_-./=,:+@%";
    fputc(' ', out);
    if (*word && word[strspn(word, plain)] == '\0') {
        fputs(word, out);
        return;
    }
    fputc('\'', out);
    for (; *word; word++)
        if (*word == '\'')
            fputs("'\\''", out);
        else
            fputc(*word, out);
    fputc('\'', out);
}

char *sweep_settings_resume(const sweep_settings *how)
{
    const options *given = how->given;
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    if (!out)
        return NULL;
    fprintf(out, "%s sweep", how->program);
    settings_word(out, how->study);
    for (size_t i = 0; i < given->override_count; i++) {
        fputs(" --set", out);
        settings_word(out, given->overrides[i]);
    }
    static const struct {
        option_id id;
        const char *name;
    } kept[] = {{OPTION_STUDY_FILE, "--output"},
                {OPTION_SHARD, "--shard"},
                {OPTION_THREADS, "--threads"},
                {OPTION_JSON, "--json"}};
    for (size_t i = 0; i < sizeof kept / sizeof *kept; i++) {
        if (!given->text[kept[i].id])
            continue;
        fprintf(out, " %s", kept[i].name);
        if (given->text[kept[i].id][0])
            settings_word(out, given->text[kept[i].id]);
    }
    fputs(" --resume", out);
    const bool failed = ferror(out) != 0;
    if (fclose(out) == 0 && !failed)
        return text;
    free(text);
    return NULL;
}
