/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/get.h"

#include <string.h>

/* Takes the next name off *names; false at the end. A name that does not fit becomes "". */
static bool get_next(const char **names, char *name, size_t size)
{
    if (!*names)
        return false;
    size_t length = strcspn(*names, ",");
    if (length < size) {
        memcpy(name, *names, length);
        name[length] = '\0';
    } else {
        name[0] = '\0';
    }
    *names = (*names)[length] ? *names + length + 1 : NULL;
    return true;
}

app_exit get_check(const app_command *command, const char *names, get_lookup *lookup,
                   const void *context)
{
    char name[96];
    double value;
    while (get_next(&names, name, sizeof name))
        if (!lookup(context, name, &value))
            return app_misused(command, "--get: there is no value '%s'", name);
    return APP_FINE;
}

app_exit get_print(const char *names, get_lookup *lookup, const void *context)
{
    char name[96];
    double value = 0;
    bool first = true;
    while (get_next(&names, name, sizeof name)) {
        if (!lookup(context, name, &value) || !app_is_number(value, name))
            return APP_UNFINISHED;
        printf("%s%.15g", first ? "" : " ", value);
        first = false;
    }
    putchar('\n');
    return APP_FINE;
}

bool get_names(const char *names, const char *name)
{
    char each[96];
    while (get_next(&names, each, sizeof each))
        if (strcmp(each, name) == 0)
            return true;
    return false;
}
