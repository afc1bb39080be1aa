/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/series.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/text.h"
#include "files/files.h"
#include "files/replace.h"
#include "study/store.h"

app_exit series_check_path(const app_command *command, const char *path)
{
    if (text_ends_with(path, ".csv") || text_ends_with(path, ".h5"))
        return APP_FINE;
    return app_misused(command, "--series writes FILE.csv or FILE.h5, not '%s'", path);
}

static double series_value(const caber_trace_row *row, const caber_trace_field *field)
{
    double value;
    memcpy(&value, (const char *)row + field->offset, sizeof value);
    return value * field->factor;
}

/* A shaft that is straight at an instant has no bend point then: that cell stays empty. Every other
 * value always exists. */
static bool series_is_absent(const caber_trace_field *field, double value)
{
    return field->offset == offsetof(caber_trace_row, bend_point) && isnan(value);
}

static bool series_row_is_finite(const caber_trace_row *row)
{
    size_t count;
    const caber_trace_field *fields = caber_trace_fields(&count);
    for (size_t f = 0; f < count; f++) {
        double value = series_value(row, &fields[f]);
        if (!series_is_absent(&fields[f], value) && !app_is_number(value, fields[f].name))
            return false;
    }
    return true;
}

bool series_is_finite(const caber_trace *trace)
{
    for (size_t i = 0; i < trace->count; i++)
        if (!series_row_is_finite(&trace->rows[i]))
            return false;
    for (size_t i = 0; i < trace->count * trace->place_count; i++)
        if (!app_is_number(trace->moment[i], "moment_nm") ||
            !app_is_number(trace->curvature[i], "curvature_per_m"))
            return false;
    return true;
}

static void series_csv_head(FILE *out, const caber_trace *trace)
{
    size_t count;
    const caber_trace_field *fields = caber_trace_fields(&count);
    for (size_t f = 0; f < count; f++)
        fprintf(out, "%s%s", f ? "," : "", fields[f].name);
    for (size_t p = 0; p < trace->place_count; p++)
        fprintf(out, ",moment_nm@%.4f", trace->place[p]);
    for (size_t p = 0; p < trace->place_count; p++)
        fprintf(out, ",curvature_per_m@%.4f", trace->place[p]);
    fputc('\n', out);
    for (size_t f = 0; f < count; f++)
        fprintf(out, "%s%s", f ? "," : "", fields[f].unit);
    for (size_t p = 0; p < trace->place_count; p++)
        fputs(",N m", out);
    for (size_t p = 0; p < trace->place_count; p++)
        fputs(",1/m", out);
    fputc('\n', out);
}

static void series_csv_row(FILE *out, const caber_trace_row *row)
{
    size_t count;
    const caber_trace_field *fields = caber_trace_fields(&count);
    for (size_t f = 0; f < count; f++) {
        double value = series_value(row, &fields[f]);
        if (f)
            fputc(',', out);
        if (!series_is_absent(&fields[f], value))
            fprintf(out, "%.10g", value);
    }
}

static void series_csv(FILE *out, const caber_trace *trace)
{
    series_csv_head(out, trace);
    for (size_t i = 0; i < trace->count; i++) {
        series_csv_row(out, &trace->rows[i]);
        const double *moment = trace->moment + i * trace->place_count;
        const double *curvature = trace->curvature + i * trace->place_count;
        for (size_t p = 0; p < trace->place_count; p++)
            fprintf(out, ",%.10g", moment[p]);
        for (size_t p = 0; p < trace->place_count; p++)
            fprintf(out, ",%.10g", curvature[p]);
        fputc('\n', out);
    }
}

static caber_status series_csv_bytes(const caber_trace *trace, char **bytes, size_t *size)
{
    FILE *out = open_memstream(bytes, size);
    if (!out)
        return CABER_NO_MEMORY;
    series_csv(out, trace);
    bool failed = ferror(out) != 0;
    failed |= fclose(out) != 0;
    return failed ? CABER_NO_MEMORY : CABER_OK;
}

/* Writes the setup as one file that refers to no other. */
static caber_status series_model_text(const caber_setup *setup, char **text, caber_message *message)
{
    size_t size;
    FILE *out = open_memstream(text, &size);
    if (!out)
        return CABER_NO_MEMORY;
    caber_status status = files_write_setup(setup, out, message);
    return fclose(out) == 0 ? status : CABER_NO_MEMORY;
}

static caber_status series_h5_bytes(const caber_trace *trace, const caber_setup *setup,
                                    const char *setup_path, const options *given, void **bytes,
                                    size_t *size, caber_message *message)
{
    char *setup_text = NULL, *model_text = NULL;
    size_t length;
    caber_status status = replace_read(setup_path, &setup_text, &length, message);
    if (status == CABER_OK)
        status = series_model_text(setup, &model_text, message);
    if (status == CABER_OK) {
        store_origin origin = {.title = setup->name,
                               .setup_text = setup_text,
                               .model_text = model_text,
                               .overrides = given->overrides,
                               .override_count = given->override_count,
                               .settings = &setup->settings};
        status = store_series(trace, &origin, bytes, size, message);
    }
    free(setup_text);
    free(model_text);
    return status;
}

app_exit series_write(const char *path, const caber_trace *trace, const caber_setup *setup,
                      const char *setup_path, const options *given)
{
    caber_message message = {""};
    void *bytes = NULL;
    char *text = NULL;
    size_t size = 0;
    caber_status status;
    if (text_ends_with(path, ".csv"))
        status = series_csv_bytes(trace, &text, &size);
    else
        status = series_h5_bytes(trace, setup, setup_path, given, &bytes, &size, &message);
    if (status == CABER_OK)
        status = replace_write(path, text ? text : bytes, size, &message);
    free(text);
    free(bytes);
    return status == CABER_OK ? APP_FINE : app_fail(status, &message);
}
