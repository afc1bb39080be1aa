/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/given.h"

#include <stdio.h>
#include <string.h>

#include "app/json.h"
#include "base/text.h"
#include "files/replace.h"

void given_stem(const char *path, const char **stem, size_t *length)
{
    const char *slash = strrchr(path, '/');
    *stem = slash ? slash + 1 : path;
    const char *dot = strrchr(*stem, '.');
    *length = dot && dot > *stem ? (size_t)(dot - *stem) : strlen(*stem);
}

void given_name(const caber_setup *const *setups, size_t at, char name[GIVEN_NAME_SIZE])
{
    bool repeated = false;
    for (size_t i = 0; i < at; i++)
        repeated = repeated || strcmp(setups[i]->name, setups[at]->name) == 0;
    if (repeated)
        snprintf(name, GIVEN_NAME_SIZE, "%s (%zu)", setups[at]->name, at + 1);
    else
        snprintf(name, GIVEN_NAME_SIZE, "%s", setups[at]->name);
}

app_exit given_setups(const options *given, caber_setup **setups, char (*names)[GIVEN_NAME_SIZE])
{
    caber_message message = {""};
    for (int i = 0; i < given->operand_count; i++) {
        const caber_status status = caber_setup_read(given->operands[i], given->overrides,
                                                     given->override_count, &setups[i], &message);
        if (status != CABER_OK)
            return app_fail(status, &message);
        given_name((const caber_setup *const *)setups, (size_t)i, names[i]);
    }
    return APP_FINE;
}

void given_print_setups(const caber_setup *const *setups, const char (*names)[GIVEN_NAME_SIZE],
                        size_t count)
{
    for (size_t i = 0; i < count; i++) {
        const char *const texts[] = {names[i],
                                     ": shaft ",
                                     setups[i]->shaft.name,
                                     ", head ",
                                     setups[i]->head.name,
                                     ", player ",
                                     setups[i]->player.name};
        printf("  %zu  ", i + 1);
        for (size_t t = 0; t < sizeof texts / sizeof *texts; t++)
            app_print_text(texts[t]);
        putchar('\n');
    }
}

bool given_same_player(const caber_setup *const *setups, size_t count)
{
    for (size_t i = 1; i < count; i++)
        if (strcmp(setups[i]->player.name, setups[0]->player.name) != 0)
            return false;
    return true;
}

void given_note_draws(json_t *notes, const char *whose, const caber_draws *draws)
{
    if (draws->failed)
        json_app_note(notes,
                      "%s%s%zu of %zu swings failed and are left out; the first, swing %zu: %s",
                      whose, *whose ? ": " : "", draws->failed, draws->count,
                      draws->first_failed + 1, draws->failure.text);
}

void given_note_players(json_t *notes, const caber_setup *const *setups, size_t count)
{
    if (!given_same_player(setups, count))
        json_app_note(notes,
                      "the players differ: so the differences are of players and clubs together");
}

app_exit given_check_plot(const options *given)
{
    const char *plot = given->text[OPTION_PLOT], *package;
    if (!plot)
        return APP_FINE;
    if (!text_ends_with(plot, ".svg") && !text_ends_with(plot, ".png"))
        return app_misused(given->command, "--plot writes FILE.svg or FILE.png, not '%s'", plot);
    if (plot_can_draw(plot_format_of(plot), &package))
        return APP_FINE;
    app_say("--plot: PLplot lacks here what draws '%s'; on Debian, install %s", plot, package);
    return APP_UNFINISHED;
}

plot_format given_plot_format(const options *given)
{
    return plot_format_of(given->text[OPTION_PLOT]);
}

app_exit given_check_files(const options *given)
{
    const char *csv = given->text[OPTION_CSV];
    if (csv && !text_ends_with(csv, ".csv"))
        return app_misused(given->command, "--csv writes FILE.csv, not '%s'", csv);
    return given_check_plot(given);
}

caber_status given_write_files(const options *given, const char *csv, size_t csv_size,
                               const char *plot, size_t plot_size, caber_message *message)
{
    caber_status status = CABER_OK;
    if (csv)
        status = replace_write(given->text[OPTION_CSV], csv, csv_size, message);
    if (status == CABER_OK && plot)
        status = replace_write(given->text[OPTION_PLOT], plot, plot_size, message);
    return status;
}

app_exit given_keep(const options *given, caber_keep *keep)
{
    const char *what = given->text[OPTION_KEEP];
    if (what && strcmp(what, "delivery") == 0)
        *keep = CABER_KEEP_DELIVERY;
    else if (what && strcmp(what, "load") != 0)
        return app_misused(given->command, "--keep takes load or delivery, not '%s'", what);
    return APP_FINE;
}

app_exit given_swings(const options *given, int *swings, int *seed, int *threads)
{
    int rc =
        options_read_count(given, OPTION_SWINGS, CABER_SWINGS_LEAST, CABER_SWINGS_MOST, swings);
    if (rc == APP_FINE)
        rc = options_read_count(given, OPTION_SEED, 0, 0x7fffffff, seed);
    if (rc == APP_FINE)
        rc = options_read_count(given, OPTION_THREADS, 1, CABER_THREADS_MOST, threads);
    return (app_exit)rc;
}

app_exit given_quantity(const options *given, option_id id, const char *name, dimension what,
                        double *si)
{
    caber_message message = {""};
    if (!given->text[id] || quantity_parse(given->text[id], what, si, &message) == CABER_OK)
        return APP_FINE;
    app_say("--%s: %s", name, message.text);
    return APP_BAD_INPUT;
}
