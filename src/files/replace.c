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

struct replace_file {
    char *path;   /* as it was given */
    char *target; /* what is to be replaced: a link leads there */
    char *part;   /* what is written meanwhile */
    FILE *stream;
    int reason; /* errno of the first write that failed; 0 = none has */
};

static void replace_free(replace_file *file)
{
    free(file->path);
    free(file->target);
    free(file->part);
    free(file);
}

static caber_status replace_names(replace_file *file, const char *path, mode_t *mode,
                                  caber_message *message)
{
    struct stat existing;
    *mode = 0666;
    const bool exists = stat(path, &existing) == 0;
    if (exists) {
        /* A rename would put a file in the place of a device, a pipe or a link. */
        if (!S_ISREG(existing.st_mode))
            return message_set(message, CABER_IO_ERROR, "%s: not an ordinary file", path);
        *mode = existing.st_mode & 0777;
    }
    file->path = strdup(path);
    file->target = exists ? realpath(path, NULL) : strdup(path);
    const size_t room = file->target ? strlen(file->target) + 32 : 0;
    file->part = room ? malloc(room) : NULL;
    if (!file->path || !file->part)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    snprintf(file->part, room, "%s.part-%ld", file->target, (long)getpid());
    return message_clear(message);
}

caber_status replace_begin(const char *path, replace_file **out, caber_message *message)
{
    *out = NULL;
    replace_file *file = calloc(1, sizeof *file);
    if (!file)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    mode_t mode;
    caber_status status = replace_names(file, path, &mode, message);
    if (status == CABER_OK) {
        const int fd = open(file->part, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, mode);
        file->stream = fd < 0 ? NULL : fdopen(fd, "wb");
        if (!file->stream)
            status = replace_error(message, "write", path);
        if (!file->stream && fd >= 0) {
            close(fd);
            unlink(file->part);
        }
    }
    if (status == CABER_OK)
        *out = file;
    else
        replace_free(file);
    return status;
}

FILE *replace_stream(const replace_file *file)
{
    return file->stream;
}

bool replace_failed(replace_file *file)
{
    if (!file->reason && ferror(file->stream))
        file->reason = errno ? errno : EIO;
    return file->reason != 0;
}

/* Takes what was written to the disk, and gives it the name. */
static void replace_keep(replace_file *file)
{
    if (!replace_failed(file) && (fflush(file->stream) != 0 || fsync(fileno(file->stream)) != 0))
        file->reason = errno;
    if (fclose(file->stream) != 0 && !file->reason)
        file->reason = errno;
    if (!file->reason && rename(file->part, file->target) != 0)
        file->reason = errno;
}

caber_status replace_end(replace_file *file, bool keep, caber_message *message)
{
    if (!file)
        return message_clear(message);
    if (keep)
        replace_keep(file);
    else
        fclose(file->stream);
    caber_status status = message_clear(message);
    if (keep && file->reason) {
        errno = file->reason;
        status = replace_error(message, "write", file->path);
    }
    if (!keep || file->reason)
        unlink(file->part);
    replace_free(file);
    return status;
}

caber_status replace_write(const char *path, const void *bytes, size_t size, caber_message *message)
{
    replace_file *file;
    caber_status status = replace_begin(path, &file, message);
    if (status != CABER_OK)
        return status;
    if (size && fwrite(bytes, 1, size, file->stream) != size)
        replace_failed(file); /* the end says why */
    return replace_end(file, true, message);
}
