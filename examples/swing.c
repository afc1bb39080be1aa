/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Every output of a swing, with its unit and meaning, and how failures are told.
 *
 *   swing SETUP [PATH=VALUE]...
 *
 * For instance: swing models/setups/neutral-smooth.yaml load.grip.rise="0.05 s"
 *
 * The library never prints and never exits: each call returns a status and writes a sentence into
 * `message`. The model is constant; a program with threads makes one `caber_work` for each of them
 * and shares the model. The table of outputs is data, caber_impact_fields: a program that prints,
 * stores or compares results needs no list of its own. */
#include <caber.h>

static void print_outputs(const caber_swing *swing)
{
    size_t count;
    const caber_field *fields = caber_impact_fields(&count);
    for (size_t i = 0; i < count; i++)
        printf("%-26s %14.6g %-6s %s\n", fields[i].name,
               caber_impact_value(&swing->bent, &fields[i]), fields[i].unit, fields[i].meaning);
}

static caber_status run(const char *path, const char *const *overrides, size_t count,
                        caber_message *message)
{
    caber_setup *setup = NULL;
    caber_model *model = NULL;
    caber_work *work = NULL;
    caber_swing swing;
    caber_status status = caber_setup_read(path, overrides, count, &setup, message);
    if (status == CABER_OK)
        status = caber_model_create(setup, &model, message);
    if (status == CABER_OK)
        status = caber_work_create(model, &work, message);
    if (status == CABER_OK)
        status = caber_swing_run(model, work, &swing, NULL, message);
    if (status == CABER_OK)
        print_outputs(&swing);
    caber_work_free(work);
    caber_model_free(model);
    caber_setup_free(setup);
    return status;
}

int main(int argc, char **argv)
{
    if (argc < 2) {
        fprintf(stderr, "usage: swing SETUP [PATH=VALUE]...\n");
        return 2;
    }
    caber_message message;
    caber_status status = run(argv[1], (const char *const *)argv + 2, (size_t)(argc - 2), &message);
    if (status != CABER_OK)
        fprintf(stderr, "%s: %s\n", caber_status_text(status), message.text);
    return status == CABER_OK ? 0 : 1;
}
