/* SPDX-License-Identifier: GPL-3.0-or-later */
#define _XOPEN_SOURCE 700 /* realpath */
#include "files/replace.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/message.h"

static caber_status replace_error(caber_message *message, const char *what, const char *path)
{
    return message_set(message, CABER_IO_ERROR, "%s: cannot %s: %s", path, what, strerror(errno));
}

caber_status replace_read(const char *path, char **text, size_t *size, caber_message *message)
{
    *text = NULL;
    *size = 0;
    FILE *file = fopen(path, "rb");
    if (!file)
        return replace_error(message, "open", path);
    char *bytes = NULL;
    size_t length = 0, room = 0;
    for (;;) {
        if (room - length < 2) {
            room = room ? 2 * room : 1 << 14;
            char *more = realloc(bytes, room);
            if (!more)
                break;
            bytes = more;
        }
        size_t got = fread(bytes + length, 1, room - length - 1, file);
        length += got;
        if (got == 0)
            break;
    }
    bool complete = feof(file) && !ferror(file);
    fclose(file);
    if (!complete) {
        free(bytes);
        return replace_error(message, "read", path);
    }
    bytes[length] = '\0';
    *text = bytes;
    *size = length;
    return message_clear(message);
}

static bool replace_write_all(int fd, const char *bytes, size_t size)
{
    while (size) {
        ssize_t done = write(fd, bytes, size);
        if (done < 0 && errno == EINTR)
            continue;
        if (done <= 0)
            return false;
        bytes += done;
        size -= (size_t)done;
    }
    return fsync(fd) == 0;
}

/* Writes the bytes under `part` and renames it to `path`. */
static caber_status replace_through(const char *part, const char *path, mode_t mode,
                                    const void *bytes, size_t size, caber_message *message)
{
    int fd = open(part, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, mode);
    if (fd < 0)
        return replace_error(message, "write", path);
    bool written = replace_write_all(fd, bytes, size);
    int reason = errno;
    if (close(fd) != 0 && written) {
        written = false;
        reason = errno;
    }
    if (written && rename(part, path) == 0)
        return message_clear(message);
    if (!written)
        errno = reason;
    caber_status status = replace_error(message, "write", path);
    unlink(part);
    return status;
}

caber_status replace_write(const char *path, const void *bytes, size_t size, caber_message *message)
{
    struct stat existing;
    mode_t mode = 0666;
    char *target = NULL;
    if (stat(path, &existing) == 0) {
        /* A rename would put a file in the place of a device, a pipe or a link. */
        if (!S_ISREG(existing.st_mode))
            return message_set(message, CABER_IO_ERROR, "%s: not an ordinary file", path);
        mode = existing.st_mode & 0777;
        target = realpath(path, NULL);
    } else {
        target = strdup(path);
    }
    size_t room = target ? strlen(target) + 32 : 0;
    char *part = target ? malloc(room) : NULL;
    if (!part) {
        free(target);
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    }
    snprintf(part, room, "%s.part-%ld", target, (long)getpid());
    caber_status status = replace_through(part, target, mode, bytes, size, message);
    free(part);
    free(target);
    return status;
}
