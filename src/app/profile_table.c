/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/profile_table.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "app/cautions.h"
#include "app/profile.h"
#include "app/table.h"

/* m, between two rows of the table; the file has every station. */
static const double row_pitch = 0.08;

static size_t count_left_out(const caber_readings *readings)
{
    size_t n = 0;
    for (size_t i = 0; i < readings->count; i++)
        n += readings->items[i].left_out;
    return n;
}

static void print_head(const caber_readings *readings, const caber_fit *fit)
{
    table_title(readings->name);
    printf("  shaft     %.0f mm uncut; every place is from its tip\n", readings->length * 1e3);
    printf("  readings  %zu, %zu of them in the fit\n\n", readings->count, fit->used);
    table_wrapped(cautions_profile[0], 0);
}

/* ------------------------------------------------------------------ the profile */

static void print_value(double value, double relative, int decimals)
{
    char text[32], error[32];
    table_number(text, sizeof text, value, decimals);
    table_number(error, sizeof error, value * relative, decimals);
    printf("%9s%7s", text, error);
}

static void print_station(const caber_fit *fit, size_t i)
{
    const caber_station *s = &fit->shaft.stations[i];
    const caber_band *b = &fit->band[i];
    printf("  %7.0f", s->at * 1e3);
    print_value(profile_mean_ei(s), b->ei, 2);
    print_value(s->gj, b->gj, 2);
    print_value(s->mass * 1e3, b->mass, 1);
    printf("%9.2f", s->diameter * 1e3);
    if (b->bend_unseen || b->twist_unseen)
        printf("   %s%s%s not seen", b->bend_unseen ? "EI" : "",
               b->bend_unseen && b->twist_unseen ? " and " : "", b->twist_unseen ? "GJ" : "");
    putchar('\n');
}

static void print_profile(const caber_fit *fit)
{
    const size_t last = fit->shaft.station_count - 1;
    const double pitch = fit->shaft.length / (double)last;
    const size_t step = (size_t)fmax(round(row_pitch / pitch), 1);
    table_group("Profile; +- is one standard deviation");
    printf("  %7s%9s%7s%9s%7s%9s%7s%9s\n", "at", "EI", "+-", "GJ", "+-", "mass", "+-", "diameter");
    printf("  %7s%9s%7s%9s%7s%9s%7s%9s\n", "mm", "N m2", "", "N m2", "", "g/m", "", "mm");
    for (size_t i = 0; i < last; i += step)
        if (last - i >= (step + 1) / 2) /* the butt has its own row */
            print_station(fit, i);
    print_station(fit, last);
    if (fit->shaft.stations[0].ei_2 > 0)
        puts("EI is the mean over the directions about the axis.");
}

static bool is_unseen(const caber_fit *fit, size_t i, bool twist)
{
    return twist ? fit->band[i].twist_unseen : fit->band[i].bend_unseen;
}

/* Prints where no reading would tell a fifth more or less. */
static void print_unseen(const caber_fit *fit, bool twist)
{
    const char *before = twist ? "  GJ  at" : "  EI  at";
    for (size_t i = 0; i < fit->shaft.station_count; i++) {
        if (!is_unseen(fit, i, twist))
            continue;
        size_t j = i;
        while (j + 1 < fit->shaft.station_count && is_unseen(fit, j + 1, twist))
            j++;
        printf("%s %.0f", before, fit->shaft.stations[i].at * 1e3);
        if (j > i)
            printf(" to %.0f", fit->shaft.stations[j].at * 1e3);
        before = " mm,";
        i = j;
    }
    if (before[0] == ' ' && before[1] == 'm')
        puts(" mm");
}

static void print_all_unseen(const caber_fit *fit)
{
    bool any = false;
    for (size_t i = 0; i < fit->shaft.station_count; i++)
        any = any || is_unseen(fit, i, false) || is_unseen(fit, i, true);
    if (!any)
        return;
    table_group("Not seen: no reading would tell a fifth more or less here");
    print_unseen(fit, false);
    print_unseen(fit, true);
    puts(
        "The curve is only carried on from its surroundings there, and its band is an assumption.");
}

/* ------------------------------------------------------------------ how well it fits */

static void print_agreement(const caber_fit *fit)
{
    table_group("How the readings agree");
    printf("  %-22s%8.2f   %s\n", "chi-square, reduced", profile_reduced_chi_square(fit),
           "about 1 where the stated errors of the readings are right");
    if (fit->widened > 1)
        printf("  %-22s%8.2f   %s\n", "+- widened by", fit->widened,
               "its root: the readings scatter more than stated");
    printf("  %-22s%8.1f   %s\n", "parameters, effective", fit->parameters,
           "as many numbers of the profile the readings decide");
    printf("  %-22s%8.1f %% %s\n", "smoothness of EI", 100 / sqrt(fit->smooth_ei),
           "change of slope from knot to knot, found from the readings");
    printf("  %-22s%8.1f %% %s\n", "smoothness of GJ", 100 / sqrt(fit->smooth_gj), "the same");
}

static void print_jig(const caber_readings *readings, const caber_fit *fit, const profile_jig *jig)
{
    const caber_reading any = {.kind = jig->kind};
    char name[60];
    snprintf(name, sizeof name, "%.36s", *jig->file ? jig->file : profile_kind_of(&any)->label);
    printf("  ");
    app_print_text(name);
    printf("%*s%6zu%10zu", (int)(36 - strlen(name)), "", jig->used, jig->left_out);
    if (jig->used) {
        char rms[32], mean[32], off[32];
        table_number(rms, sizeof rms, jig->rms, 2);
        table_number(mean, sizeof mean, jig->mean, 2);
        table_number(off, sizeof off, fit->residual[jig->furthest].sigmas, 1);
        printf("%7s%7s%10s", rms, mean, off);
        if (*jig->file)
            printf("  line %d", readings->items[jig->furthest].line);
    }
    putchar('\n');
}

static app_exit print_jigs(const caber_readings *readings, const caber_fit *fit)
{
    size_t count;
    profile_jig *jigs = profile_jigs(readings, fit, &count);
    if (!jigs) {
        app_say("out of memory");
        return APP_UNFINISHED;
    }
    printf("\n  %-36s%6s%10s%7s%7s%10s\n", "in sigma, a reading's own error", "used", "left out",
           "rms", "mean", "furthest");
    for (size_t i = 0; i < count; i++)
        print_jig(readings, fit, &jigs[i]);
    free(jigs);
    return APP_FINE;
}

static void print_off(const caber_readings *readings, const caber_fit *fit, size_t i)
{
    const caber_reading *r = &readings->items[i];
    const profile_kind *kind = profile_kind_of(r);
    char title[2 * CABER_NAME_SIZE], value[32], expected[32];
    profile_reading_title(r, title, sizeof title);
    table_number(value, sizeof value, r->value * kind->factor, kind->decimals);
    table_number(expected, sizeof expected, fit->residual[i].predicted * kind->factor,
                 kind->decimals);
    printf("  ");
    app_print_text(title);
    printf(": %+.1f sigma; it reads %s %s where the profile gives %s\n", fit->residual[i].sigmas,
           value, kind->unit, expected);
}

/* What can be left out, as --without takes it. */
static void print_advice(const caber_reading *r)
{
    printf("    check %s", profile_kind_of(r)->check);
    if (r->kind != CABER_READ_MASS && r->kind != CABER_READ_BALANCE) {
        printf(";\n    if it stays so, leave it out: --without ");
        app_print_text(profile_file(r->source));
        printf(":%d", r->line);
    }
    putchar('\n');
}

static void print_outliers(const caber_readings *readings, const caber_fit *fit)
{
    bool any = false;
    for (size_t i = 0; i < readings->count; i++) {
        if (!profile_is_outlier(readings, fit, i))
            continue;
        if (!any)
            printf("\nFurther off than %.0f sigma\n", PROFILE_OUTLIER);
        any = true;
        print_off(readings, fit, i);
        print_advice(&readings->items[i]);
    }
    if (!any)
        printf("No reading in the fit is further off than %.0f sigma.\n", PROFILE_OUTLIER);
    if (!count_left_out(readings))
        return;
    table_group("Left out of the fit");
    for (size_t i = 0; i < readings->count; i++)
        if (readings->items[i].left_out)
            print_off(readings, fit, i);
}

/* ------------------------------------------------------------------ symmetry */

static bool is_bending(const caber_reading *r)
{
    return r->kind == CABER_READ_SPAN || r->kind == CABER_READ_CANTILEVER ||
           r->kind == CABER_READ_FREQUENCY;
}

static void print_difference(const caber_fit *fit)
{
    const double sure = fit->ratio / fit->ratio_sd;
    printf("  %-22s%8.2f +- %.2f %%  %s\n", "stiffer over softer", 100 * fit->ratio,
           100 * fit->ratio_sd,
           sure >= 3   ? "a difference that the readings see"
           : sure >= 2 ? "a difference that the readings hint at"
                       : "none told: within 2 of its standard deviations");
    if (sure < 2)
        return;
    printf("  %-22s%8.0f +- %.0f deg  from the shaft's mark\n", "stiffest direction",
           fit->angle * CABER_DEG, fit->angle_sd * CABER_DEG);
    const caber_station *s = &fit->shaft.stations[fit->shaft.station_count / 2];
    printf("  %-22s%8.2f and %.2f N m2, at %.0f mm\n", "such as EI of", s->ei, s->ei_2,
           s->at * 1e3);
}

static void print_symmetry(const caber_readings *readings, const caber_fit *fit)
{
    size_t unnoted = 0;
    for (size_t i = 0; i < readings->count; i++)
        unnoted += is_bending(&readings->items[i]) && isnan(readings->items[i].orientation);
    table_group("Symmetry: a check, not a ruling");
    if (fit->oriented)
        print_difference(fit);
    else
        puts("  The readings do not tell directions apart. Bend the shaft in three directions or\n"
             "  more about its axis, and note them as the orientation.");
    if (fit->oriented && unnoted)
        printf("  %zu bending reading%s no orientation and %s nothing here.\n", unnoted,
               unnoted == 1 ? " has" : "s have", unnoted == 1 ? "says" : "say");
    puts("The Equipment Rules want a shaft to bend the same at any point whichever way it is "
         "turned\n"
         "about its axis, and to twist the same in both directions. The first is looked at here, "
         "as\n"
         "one figure for the whole shaft; the second is not. Check with the rules body.");
}

app_exit profile_table(const caber_readings *readings, const caber_fit *fit)
{
    print_head(readings, fit);
    print_profile(fit);
    print_all_unseen(fit);
    print_agreement(fit);
    const app_exit rc = print_jigs(readings, fit);
    if (rc != APP_FINE)
        return rc;
    print_outliers(readings, fit);
    print_symmetry(readings, fit);
    return APP_FINE;
}
