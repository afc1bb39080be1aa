/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/store.h"

#include <hdf5_hl.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "study/store_hdf5.h"
#undef DIMENSION_LIST /* a name of HDF5's that units.h has for itself; not used here */
#include "swing/fields_table.h"

/* File access in memory, in a format any reader of HDF5 1.8 or later knows. */
static hid_t store_create_file(void)
{
    hid_t access = H5Pcreate(H5P_FILE_ACCESS);
    hid_t creation = H5Pcreate(H5P_FILE_CREATE);
    hid_t file = H5I_INVALID_HID;
    if (access >= 0 && creation >= 0 && H5Pset_fapl_core(access, 1 << 16, 0) >= 0 &&
        H5Pset_obj_track_times(creation, 0) >= 0)
        file = H5Fcreate("caber.h5", H5F_ACC_TRUNC, creation, access);
    H5Pclose(creation);
    H5Pclose(access);
    return file;
}

/* Copies the finished file out. */
static void store_take(store *s, void **bytes, size_t *size)
{
    if (!s->ok || !store_worked(s, H5Fflush(s->file, H5F_SCOPE_GLOBAL)))
        return;
    ssize_t length = H5Fget_file_image(s->file, NULL, 0);
    if (!store_worked(s, length))
        return;
    *bytes = malloc((size_t)length);
    *size = (size_t)length;
    if (!*bytes || H5Fget_file_image(s->file, *bytes, *size) != length)
        s->ok = false;
}

/* Writes a dataset at the root with its scales; scale is NULL when it is itself a scale. */
static hid_t store_dataset(store *s, const char *name, const char *units, const char *meaning,
                           int rank, const hsize_t *extent, const hid_t *scale,
                           const double *values)
{
    if (!s->ok)
        return H5I_INVALID_HID;
    hid_t space = H5Screate_simple(rank, extent, NULL);
    hid_t set =
        H5Dcreate2(s->file, name, H5T_IEEE_F64LE, space, H5P_DEFAULT, s->plain, H5P_DEFAULT);
    H5Sclose(space);
    if (!store_worked(s, set))
        return set;
    store_worked(s, H5Dwrite(set, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, values));
    if (scale)
        for (int i = 0; i < rank; i++)
            store_worked(s, H5DSattach_scale(set, scale[i], (unsigned)i));
    else
        store_worked(s, H5DSset_scale(set, name));
    store_text(s, set, "units", units);
    store_text(s, set, "long_name", meaning);
    return set;
}

/* The same, for a dataset nobody refers to afterwards. */
static void store_values(store *s, const char *name, const char *units, const char *meaning,
                         int rank, const hsize_t *extent, const hid_t *scale, const double *values)
{
    hid_t set = store_dataset(s, name, units, meaning, rank, extent, scale, values);
    if (set >= 0)
        H5Dclose(set);
}

/* Writes one setting, whose name is that in the files with its unit as suffix. */
static void store_setting(store *s, const field *f, const caber_settings *settings)
{
    const char *value = (const char *)settings + f->offset;
    char name[64];
    const char *suffix = f->unit ? f->unit : "";
    snprintf(name, sizeof name, "settings_%s%s%s", f->name, *suffix ? "_" : "", suffix);
    if (f->type == FIELD_QUANTITY)
        store_attribute(s, s->file, name, H5T_NATIVE_DOUBLE, 0, value);
    else if (f->type == FIELD_INTEGER)
        store_attribute(s, s->file, name, H5T_NATIVE_INT, 0, value);
    else if (f->type == FIELD_BOOLEAN)
        store_text(s, s->file, name, *(const bool *)value ? "yes" : "no");
    else
        s->ok = false; /* a setting of a kind that has no attribute yet */
}

/* Writes every setting that the files have. */
static void store_settings(store *s, const caber_settings *settings)
{
    const field_group *setup = fields_kind_setup();
    for (size_t i = 0; i < setup->count; i++) {
        if (strcmp(setup->fields[i].name, "settings") != 0)
            continue;
        const field_group *group = setup->fields[i].group;
        for (size_t j = 0; j < group->count; j++)
            store_setting(s, &group->fields[j], settings);
    }
}

static void store_root(store *s, const store_origin *origin)
{
    store_text(s, s->file, "title", origin->title);
    store_text(s, s->file, "program", "caber");
    store_text(s, s->file, "version", caber_version());
    store_text(s, s->file, "setup_text", origin->setup_text);
    store_text(s, s->file, "model_text", origin->model_text);
    if (origin->override_count)
        store_attribute(s, s->file, "overrides", s->text, origin->override_count,
                        origin->overrides);
    store_settings(s, origin->settings);
}

/* Says, on a dataset where some value does not exist, how that is written. */
static void store_mark_absent(store *s, hid_t set, const double *values, size_t count)
{
    size_t i = 0;
    while (i < count && !isnan(values[i]))
        i++;
    if (i == count)
        return;
    store_number(s, set, "_FillValue", NAN);
    store_text(s, set, "comment", "not a number where the value does not exist");
}

/* Writes the scalars of the rows; the first of them is time, the scale of the others. Returns the
 * scale of time, still open. */
static hid_t store_rows(store *s, const caber_trace *trace, double *column)
{
    hid_t time = H5I_INVALID_HID;
    hsize_t rows = trace->count;
    size_t count;
    const caber_trace_field *fields = caber_trace_fields(&count);
    for (size_t f = 0; f < count; f++) {
        for (size_t i = 0; i < trace->count; i++) {
            const char *row = (const char *)&trace->rows[i];
            double value;
            memcpy(&value, row + fields[f].offset, sizeof value);
            column[i] = value * fields[f].factor;
        }
        bool is_time = fields[f].offset == offsetof(caber_trace_row, time);
        hid_t set = store_dataset(s, fields[f].name, fields[f].unit, fields[f].meaning, 1, &rows,
                                  is_time ? NULL : &time, column);
        store_mark_absent(s, set, column, trace->count);
        if (is_time)
            time = set;
        else if (set >= 0)
            H5Dclose(set);
    }
    return time;
}

/* Writes what varies along the shaft as well. */
static void store_fields(store *s, const caber_trace *trace, hid_t time)
{
    if (!trace->place_count || !s->ok)
        return;
    hsize_t extent[2] = {trace->count, trace->place_count};
    hid_t place = store_dataset(s, "place_m", "m", "place along the shaft, from the tip", 1,
                                &extent[1], NULL, trace->place);
    hid_t scale[2] = {time, place};
    store_values(s, "moment_nm", "N m", "bending moment in the shaft", 2, extent, scale,
                 trace->moment);
    store_values(s, "curvature_per_m", "1/m", "curvature of bending", 2, extent, scale,
                 trace->curvature);
    if (place >= 0)
        H5Dclose(place);
}

static caber_status store_build(const caber_trace *trace, const store_origin *origin,
                                double *column, void **bytes, size_t *size, caber_message *message)
{
    store_quiet quiet = store_hush();
    store s;
    store_begin(&s);
    s.file = store_create_file();
    store_worked(&s, s.file);
    if (s.ok) {
        store_root(&s, origin);
        hid_t time = store_rows(&s, trace, column);
        store_fields(&s, trace, time);
        if (time >= 0)
            H5Dclose(time);
    }
    store_take(&s, bytes, size);
    if (s.file >= 0)
        H5Fclose(s.file);
    store_end(&s);
    store_unhush(quiet);
    if (s.ok)
        return message_clear(message);
    free(*bytes);
    *bytes = NULL;
    return message_set(message, CABER_INTERNAL, "HDF5 could not make the file of the series");
}

caber_status store_series(const caber_trace *trace, const store_origin *origin, void **bytes,
                          size_t *size, caber_message *message)
{
    *bytes = NULL;
    *size = 0;
    if (!trace->count)
        return message_set(message, CABER_BAD_INPUT, "the series has no rows");
    double *column = malloc(trace->count * sizeof *column);
    if (!column)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    caber_status status = store_build(trace, origin, column, bytes, size, message);
    free(column);
    return status;
}
