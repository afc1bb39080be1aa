/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "files/source.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "base/message.h"
#include "files/node.h"

static caber_status io_error(const char *path, int error, caber_message *message)
{
    char text[128] = "it cannot be read";
    const char *problem = text;
    switch (error) {
    case ENOENT:
    case ENOTDIR:
        problem = "there is no such file";
        break;
    case EACCES:
        problem = "reading it is not permitted";
        break;
    case EISDIR:
        problem = "this is a directory; a file is wanted";
        break;
    default:
        (void)!strerror_r(error, text, sizeof text);
    }
    return message_set(message, CABER_IO_ERROR, "%s: %s", path, problem);
}

/* Opens an ordinary file: a pipe or device could keep us waiting for ever. */
static caber_status source_open(const char *path, size_t most, FILE **file, size_t *size,
                                caber_message *message)
{
    struct stat info;
    if (stat(path, &info))
        return io_error(path, errno, message);
    if (S_ISDIR(info.st_mode))
        return io_error(path, EISDIR, message);
    if (!S_ISREG(info.st_mode))
        return message_set(message, CABER_IO_ERROR, "%s: this is not an ordinary file", path);
    if ((unsigned long long)info.st_size > most)
        return message_set(message, CABER_BAD_INPUT, "%s: has %lld bytes; at most %zu are allowed",
                           path, (long long)info.st_size, most);
    *file = fopen(path, "rb");
    if (!*file)
        return io_error(path, errno, message);
    *size = (size_t)info.st_size;
    return CABER_OK;
}

caber_status source_read(arena *a, const char *path, const char **text, size_t *size,
                         caber_message *message)
{
    return source_read_most(a, path, NODE_MOST_BYTES, text, size, message);
}

caber_status source_read_most(arena *a, const char *path, size_t most, const char **text,
                              size_t *size, caber_message *message)
{
    FILE *file;
    caber_status status = source_open(path, most, &file, size, message);
    if (status != CABER_OK)
        return status;
    char *bytes = arena_take(a, *size + 1);
    if (bytes) {
        /* A file that shrinks meanwhile is read as far as it goes. */
        *size = fread(bytes, 1, *size, file);
        bytes[*size] = '\0';
        if (ferror(file))
            status = io_error(path, errno, message);
    } else {
        status = message_set(message, CABER_NO_MEMORY, "%s: out of memory", path);
    }
    fclose(file);
    *text = bytes;
    return status;
}

bool source_is_same(const char *a, const char *b)
{
    struct stat left, right;
    return !stat(a, &left) && !stat(b, &right) && left.st_dev == right.st_dev &&
           left.st_ino == right.st_ino;
}

/* Takes "x/.." and "./" out, in place. */
static void path_shorten(char *path)
{
    char *out = path;
    const char *in = path;
    while (*in) {
        const char *slash = strchr(in, '/');
        size_t length = slash ? (size_t)(slash - in) + 1 : strlen(in);
        bool dot = length == 2 && !memcmp(in, "./", 2);
        bool up = length == 3 && !memcmp(in, "../", 3);
        char *before = out;
        while (up && before > path && (before == out || before[-1] != '/'))
            before--;
        bool removable = up && before < out && *before != '/' && memcmp(before, "../", 3);
        if (removable) {
            out = before;
        } else if (!dot) {
            memmove(out, in, length);
            out += length;
        }
        in += length;
    }
    *out = '\0';
}

const char *source_path(arena *a, const char *named_in, const char *path)
{
    const char *slash = strrchr(named_in, '/');
    size_t folder = slash && path[0] != '/' ? (size_t)(slash - named_in) + 1 : 0;
    size_t length = strlen(path);
    char *joined = arena_take(a, folder + length + 1);
    if (!joined)
        return NULL;
    memcpy(joined, named_in, folder);
    memcpy(joined + folder, path, length);
    char *shorter = arena_text(a, joined, folder + length);
    if (!shorter)
        return NULL;
    path_shorten(shorter);
    /* Through a symbolic link "x/.." may be another folder: then the long path stays. */
    return source_is_same(shorter, joined) ? shorter : joined;
}
