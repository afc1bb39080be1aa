/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Answers for the study of convergence, one line of JSON a line of input:
 *   swing<tab>SETUP[<tab>PATH=VALUE]...
 *     what `caber swing SETUP --json --set PATH=VALUE...` prints, without a process for each;
 *   shaft<tab>SETUP<tab>ELEMENTS<tab>COUNT
 *     {"elements": n, "hz": [...]}: the COUNT lowest frequencies of the shaft held at the hands,
 *     with its head, on ELEMENTS elements at least; 0 = as the swing chooses them;
 *   defaults
 *     the default settings.
 * SETUP is the name of a demo setup; "sparse:NAME" leaves only five rows of its shaft's table,
 * since every row is a node and a full table leaves no coarse meshes. */
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "caber.h"
#include "club/club.h"
#include "shaft/modes.h"

enum { MOST_WORDS = 16, LINE_SIZE = 1024 };

static int complain(const char *what, const char *why)
{
    fprintf(stderr, "%s: %s\n", what, why);
    return 1;
}

static void make_sparse(caber_shaft *shaft)
{
    enum { ROWS = 5 };
    for (size_t i = 0; i < ROWS; i++)
        shaft->stations[i] = shaft->stations[i * (shaft->station_count - 1) / (ROWS - 1)];
    shaft->station_count = ROWS;
}

static caber_setup *read_setup(const char *folder, const char *name, char **set, size_t count)
{
    static const char sparse[] = "sparse:";
    const bool thin = strncmp(name, sparse, strlen(sparse)) == 0;
    char path[1024];
    snprintf(path, sizeof path, "%s/models/setups/%s.yaml", folder,
             name + (thin ? strlen(sparse) : 0));
    caber_setup *s = NULL;
    caber_message message;
    if (caber_setup_read(path, (const char *const *)set, count, &s, &message) != CABER_OK) {
        complain(path, message.text);
        return NULL;
    }
    if (thin)
        make_sparse(&s->shaft);
    return s;
}

static json_t *impact_json(const caber_impact *impact, bool straight)
{
    size_t count;
    const caber_field *f = caber_impact_fields(&count);
    json_t *object = json_object();
    for (size_t i = 0; i < count; i++)
        if (!straight || f[i].straight)
            json_object_set_new(object, f[i].name, json_real(caber_impact_value(impact, f + i)));
    return object;
}

static json_t *answer_swing(const caber_setup *s, caber_message *message)
{
    caber_model *m = NULL;
    caber_work *w = NULL;
    caber_swing out;
    json_t *answer = NULL;
    if (caber_model_create(s, &m, message) == CABER_OK &&
        caber_work_create(m, &w, message) == CABER_OK &&
        caber_swing_run(m, w, &out, NULL, message) == CABER_OK)
        answer = json_pack("{so so s{sI sI}}", "impact", impact_json(&out.bent, false), "straight",
                           impact_json(&out.straight, true), "effort", "steps",
                           (json_int_t)out.effort.steps, "evaluations",
                           (json_int_t)out.effort.evaluations);
    caber_work_free(w);
    caber_model_free(m);
    return answer;
}

static json_t *answer_shaft(const caber_setup *s, int elements, size_t count,
                            caber_message *message)
{
    club *c = NULL;
    beam *b = NULL;
    modes *found = NULL;
    if (club_create(s, &c, message) != CABER_OK)
        return NULL;
    beam_shape shape = club_beam_shape(c, c->hold_at, c->end_at);
    caber_status status;
    if (elements > 0) {
        shape.element = c->length / elements;
        status = beam_create(&shape, &b, message);
        if (status == CABER_OK)
            beam_add_body(b, &c->tip);
    } else {
        status = modes_refine(shape, &c->tip, &b, message);
    }
    if (status == CABER_OK)
        status = modes_create(b, count, &found, message);
    json_t *answer = NULL;
    if (status == CABER_OK) {
        json_t *hz = json_array();
        for (size_t i = 0; i < found->count; i++)
            json_array_append_new(hz, json_real(found->omega[i] * CABER_DEG / 360));
        answer = json_pack("{sI so}", "elements", (json_int_t)(b->node_count - 1), "hz", hz);
    }
    modes_free(found);
    beam_free(b);
    club_free(c);
    return answer;
}

static json_t *answer_defaults(void)
{
    const caber_settings s = caber_settings_default();
    return json_pack("{si si si sf sf}", "modes", s.modes, "stations", s.stations, "elements",
                     s.elements, "ceiling", s.ceiling, "tolerance", s.tolerance);
}

static int answer(const char *folder, char *line)
{
    char *word[MOST_WORDS];
    size_t count = 0;
    for (char *w = strtok(line, "\t\n"); w && count < MOST_WORDS; w = strtok(NULL, "\t\n"))
        word[count++] = w;
    const bool swing = count >= 2 && strcmp(word[0], "swing") == 0;
    const bool shaft = count == 4 && strcmp(word[0], "shaft") == 0;
    const bool defaults = count == 1 && strcmp(word[0], "defaults") == 0;
    if (!swing && !shaft && !defaults)
        return complain(count ? word[0] : "an empty line", "not understood");
    caber_message message = {""};
    json_t *found = NULL;
    if (defaults) {
        found = answer_defaults();
    } else {
        caber_setup *s = read_setup(folder, word[1], word + 2, swing ? count - 2 : 0);
        if (s)
            found = swing ? answer_swing(s, &message)
                          : answer_shaft(s, atoi(word[2]), (size_t)atoi(word[3]), &message);
        caber_setup_free(s);
    }
    if (!found)
        return complain(count > 1 ? word[1] : word[0], message.text);
    json_dumpf(found, stdout, JSON_COMPACT | JSON_REAL_PRECISION(17));
    putchar('\n');
    json_decref(found);
    return 0;
}

int main(int argc, char **argv)
{
    char line[LINE_SIZE];
    int bad = argc == 2 ? 0 : complain(argv[0], "wants the folder of the sources");
    while (!bad && fgets(line, sizeof line, stdin))
        bad = answer(argv[1], line);
    return bad;
}
