/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Every output of a swing and of its ball, with its unit and meaning, and how failures are told.
 *
 *   swing SETUP [PATH=VALUE]...
 *
 * For instance: swing models/setups/neutral-smooth.yaml load.grip.rise="0.05 s"
 *
 * The library never prints and never exits: each call returns a status and writes a sentence into
 * `message`. The model is constant; a program with threads makes one `caber_work` for each of them
 * and shares the model. The tables of outputs are data, caber_impact_fields and caber_shot_fields:
 * a program that prints, stores or compares results needs no list of its own. */
#include <caber.h>

static void print_output(const caber_field *field, double value)
{
    printf("%-26s %14.6g %-6s %s\n", field->name, value, field->unit, field->meaning);
}

/* A ball that does not fly, since it does not rise say, is no failure of the swing. */
static void print_outputs(const caber_swing *swing, const caber_shot_pair *shots)
{
    size_t count;
    const caber_field *fields = caber_impact_fields(&count);
    for (size_t i = 0; i < count; i++)
        print_output(&fields[i], caber_impact_value(&swing->bent, &fields[i]));
    fields = caber_shot_fields(&count);
    for (size_t i = 0; i < count && shots->bent_flies; i++)
        print_output(&fields[i], caber_shot_value(&shots->bent, &fields[i]));
    if (!shots->bent_flies)
        printf("no flight of the ball: %s\n", shots->bent_why.text);
}

static caber_status run(const char *path, const char *const *overrides, size_t count,
                        caber_message *message)
{
    caber_setup *setup = NULL;
    caber_model *model = NULL;
    caber_work *work = NULL;
    caber_swing swing;
    caber_shot_pair shots;
    caber_status status = caber_setup_read(path, overrides, count, &setup, message);
    if (status == CABER_OK)
        status = caber_model_create(setup, &model, message);
    if (status == CABER_OK)
        status = caber_work_create(model, &work, message);
    if (status == CABER_OK)
        status = caber_swing_run(model, work, &swing, NULL, message);
    if (status == CABER_OK)
        status = caber_shot_pair_run(setup, &swing, &shots, message);
    if (status == CABER_OK)
        print_outputs(&swing, &shots);
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
