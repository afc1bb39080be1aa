/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/store_hdf5.h"

void store_begin(store *s)
{
    s->ok = true;
    s->file = H5I_INVALID_HID;
    s->text = H5Tcopy(H5T_C_S1);
    store_worked(s, s->text);
    s->plain = H5Pcreate(H5P_DATASET_CREATE);
    store_worked(s, s->plain);
    if (s->ok) {
        store_worked(s, H5Tset_size(s->text, H5T_VARIABLE));
        store_worked(s, H5Tset_cset(s->text, H5T_CSET_UTF8));
        store_worked(s, H5Pset_obj_track_times(s->plain, 0));
    }
}

void store_end(store *s)
{
    if (s->plain >= 0)
        H5Pclose(s->plain);
    if (s->text >= 0)
        H5Tclose(s->text);
}

bool store_worked(store *s, long long result)
{
    if (result < 0)
        s->ok = false;
    return s->ok;
}

void store_attribute(store *s, hid_t at, const char *name, hid_t type, size_t count,
                     const void *value)
{
    if (!s->ok)
        return;
    hsize_t extent = count;
    hid_t space = count ? H5Screate_simple(1, &extent, NULL) : H5Screate(H5S_SCALAR);
    hid_t attribute = H5Acreate2(at, name, type, space, H5P_DEFAULT, H5P_DEFAULT);
    if (store_worked(s, attribute)) {
        store_worked(s, H5Awrite(attribute, type, value));
        store_worked(s, H5Aclose(attribute));
    }
    H5Sclose(space);
}

void store_text(store *s, hid_t at, const char *name, const char *value)
{
    store_attribute(s, at, name, s->text, 0, &value);
}

void store_number(store *s, hid_t at, const char *name, double value)
{
    store_attribute(s, at, name, H5T_NATIVE_DOUBLE, 0, &value);
}

store_quiet store_hush(void)
{
    store_quiet quiet;
    H5Eget_auto2(H5E_DEFAULT, &quiet.print, &quiet.data);
    H5Eset_auto2(H5E_DEFAULT, NULL, NULL);
    return quiet;
}

void store_unhush(store_quiet quiet)
{
    H5Eset_auto2(H5E_DEFAULT, quiet.print, quiet.data);
}
