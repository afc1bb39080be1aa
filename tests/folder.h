/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A folder of files that a test writes, made before its tests and removed with all that is in it after. */
#ifndef TESTS_FOLDER_H
#define TESTS_FOLDER_H

#include <glob.h>
#include <stdlib.h>
#include <unistd.h>

#include "check.h"

static char folder[] = "/tmp/caber-test-XXXXXX";

static int folder_make(void **state)
{
    (void)state;
    return mkdtemp(folder) ? 0 : -1;
}

static int folder_remove(void **state)
{
    (void)state;
    char pattern[64];
    glob_t found;
    snprintf(pattern, sizeof pattern, "%s/*", folder);
    if (glob(pattern, 0, NULL, &found) == 0)
        for (size_t i = 0; i < found.gl_pathc; i++)
            remove(found.gl_pathv[i]);
    globfree(&found);
    return remove(folder);
}

/* Returns the path of a file in it, good until the next call. */
static inline const char *folder_path(const char *name)
{
    static char path[128];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static inline void folder_write(const char *name, const char *text)
{
    FILE *out = fopen(folder_path(name), "wb");
    assert_non_null(out);
    assert_int_equal(fwrite(text, 1, strlen(text), out), strlen(text));
    fclose(out);
}

#endif
