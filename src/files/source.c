/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "files/source.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

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

/* The bytes of a file that is open, which is closed. */
static caber_status source_take(arena *a, FILE *file, const char *path, const char **text,
                                size_t *size, caber_message *message)
{
    caber_status status = CABER_OK;
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

caber_status source_read_most(arena *a, const char *path, size_t most, const char **text,
                              size_t *size, caber_message *message)
{
    FILE *file;
    caber_status status = source_open(path, most, &file, size, message);
    if (status != CABER_OK)
        return status;
    return source_take(a, file, path, text, size, message);
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

/* ------------------------------------------------------------------ below a fence */

static caber_status fence_refuse(const char *path, caber_message *message)
{
    return message_set(message, CABER_BAD_INPUT,
                       "%s: is outside the folders that may be read here, or a symbolic link",
                       path);
}

/* Returns what follows the folder in the path, or NULL when it is not below. */
static const char *fence_rest(const char *folder, const char *path)
{
    const size_t length = strlen(folder);
    return !strncmp(path, folder, length) && path[length] == '/' ? path + length + 1 : NULL;
}

/* Opens `rest` below the folder, name by name; *refused says that a name may not be followed. Returns a
 * descriptor, or -1 with errno. */
static int fence_open(const char *folder, const char *rest, bool *refused)
{
    enum { WAY = O_RDONLY | O_NOFOLLOW | O_CLOEXEC };
    int at = open(folder, WAY | O_DIRECTORY);
    while (at >= 0 && rest) {
        char name[256];
        const size_t length = strcspn(rest, "/");
        const bool last = !rest[length];
        *refused = length == 0 || length >= sizeof name;
        if (!*refused) {
            memcpy(name, rest, length);
            name[length] = '\0';
            *refused = !strcmp(name, ".") || !strcmp(name, "..");
        }
        /* O_NONBLOCK: a pipe without a writer would keep us waiting. */
        const int next = *refused ? -1 : openat(at, name, WAY | (last ? O_NONBLOCK : O_DIRECTORY));
        struct stat info;
        if (next < 0 && !*refused) {
            const int reason = errno;
            *refused = reason == ELOOP ||
                       (!fstatat(at, name, &info, AT_SYMLINK_NOFOLLOW) && S_ISLNK(info.st_mode));
            errno = reason;
        }
        const int reason = errno;
        close(at);
        errno = reason;
        at = next;
        rest = last ? NULL : rest + length + 1;
    }
    return at;
}

/* Makes a stream of an ordinary file of allowed size; the descriptor is closed or the stream's. */
static caber_status fence_stream(int fd, const char *path, FILE **file, size_t *size,
                                 caber_message *message)
{
    struct stat info;
    caber_status status = CABER_OK;
    if (fstat(fd, &info))
        status = io_error(path, errno, message);
    else if (S_ISDIR(info.st_mode))
        status = io_error(path, EISDIR, message);
    else if (!S_ISREG(info.st_mode))
        status = message_set(message, CABER_IO_ERROR, "%s: this is not an ordinary file", path);
    else if (info.st_size > NODE_MOST_BYTES)
        status = message_set(message, CABER_BAD_INPUT, "%s: has %lld bytes; at most %d are allowed",
                             path, (long long)info.st_size, NODE_MOST_BYTES);
    if (status == CABER_OK && !(*file = fdopen(fd, "rb")))
        status = io_error(path, errno, message);
    if (status != CABER_OK)
        close(fd);
    else
        *size = (size_t)info.st_size;
    return status;
}

caber_status source_read_within(arena *a, const source_fence *fence, const char *path,
                                const char **text, size_t *size, caber_message *message)
{
    if (!fence)
        return source_read(a, path, text, size, message);
    char *plain = arena_text(a, path, strlen(path));
    if (!plain)
        return message_set(message, CABER_NO_MEMORY, "%s: out of memory", path);
    path_shorten(plain);
    for (size_t i = 0; i < fence->count; i++) {
        const char *rest = fence_rest(fence->folders[i], plain);
        bool refused = false;
        if (!rest)
            continue;
        FILE *file;
        const int fd = fence_open(fence->folders[i], rest, &refused);
        if (fd < 0)
            return refused ? fence_refuse(path, message) : io_error(path, errno, message);
        const caber_status status = fence_stream(fd, path, &file, size, message);
        return status == CABER_OK ? source_take(a, file, path, text, size, message) : status;
    }
    return fence_refuse(path, message);
}
