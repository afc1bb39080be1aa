/* SPDX-License-Identifier: GPL-3.0-or-later */
#define _XOPEN_SOURCE 700 /* realpath */
#include "page/folders.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/message.h"
#include "base/text.h"
#include "files/node.h"

const char *const folder_names[FOLDER_COUNT] = {"models", "user"};

/* In the models each kind has a folder. */
static const char *const kinds[][2] = {{"setup", "setups"},   {"shaft", "shafts"},
                                       {"head", "heads"},     {"grip", "grips"},
                                       {"player", "players"}, {"readings", "readings"}};
enum { KIND_COUNT = sizeof kinds / sizeof *kinds, NAME_MOST = 100, LIST_MOST = 1000 };

static caber_status open_folder(const char *path, char **out, caber_message *message)
{
    struct stat info;
    *out = realpath(path, NULL);
    if (!*out || stat(*out, &info))
        return message_set(message, CABER_IO_ERROR, "%s: %s", path, strerror(errno));
    if (!S_ISDIR(info.st_mode) || !(*out)[1])
        return message_set(message, CABER_IO_ERROR, "%s: a folder is wanted%s", path,
                           (*out)[1] ? "" : ", not the root of all files");
    return CABER_OK;
}

caber_status folders_open(const char *models, const char *user, folders *out,
                          caber_message *message)
{
    *out = (folders){.path = {NULL}};
    caber_status status = open_folder(models, &out->path[FOLDER_MODELS], message);
    if (status == CABER_OK && user)
        status = open_folder(user, &out->path[FOLDER_USER], message);
    for (int i = 0; i < FOLDER_COUNT; i++)
        if (out->path[i])
            out->fence_paths[out->fence.count++] = out->path[i];
    out->fence.folders = out->fence_paths;
    if (status != CABER_OK)
        folders_close(out);
    return status;
}

void folders_close(folders *f)
{
    for (int i = 0; i < FOLDER_COUNT; i++) {
        free(f->path[i]);
        f->path[i] = NULL;
    }
}

int folders_find(const folders *f, const char *word)
{
    for (int i = 0; i < FOLDER_COUNT; i++)
        if (f->path[i] && strcmp(word, folder_names[i]) == 0)
            return i;
    return -1;
}

bool folders_has_kind(const char *kind)
{
    for (int k = 0; k < KIND_COUNT; k++)
        if (strcmp(kind, kinds[k][0]) == 0)
            return true;
    return false;
}

bool folders_is_name(const char *name)
{
    const size_t length = strlen(name);
    if (length > NAME_MOST || !text_ends_with(name, ".yaml") || name[0] == '.' || name[0] == ' ' ||
        text_utf8_end(name, length) != length)
        return false;
    for (const unsigned char *c = (const unsigned char *)name; *c; c++)
        if (*c < 0x20 || *c == 0x7f || strchr("/\\:*?\"<>|", *c))
            return false;
    return true;
}

static const char *subfolder(int folder, const char *kind)
{
    for (int k = 0; folder == FOLDER_MODELS && k < KIND_COUNT; k++)
        if (strcmp(kind, kinds[k][0]) == 0)
            return kinds[k][1];
    return NULL;
}

char *folders_path(const folders *f, int folder, const char *kind, const char *name)
{
    const char *sub = subfolder(folder, kind);
    const size_t size = strlen(f->path[folder]) + (sub ? strlen(sub) : 0) + strlen(name) + 3;
    char *path = malloc(size);
    if (path)
        snprintf(path, size, "%s/%s%s%s", f->path[folder], sub ? sub : "", sub ? "/" : "", name);
    return path;
}

void folders_shorten(const folders *f, caber_message *message)
{
    for (int i = 0; i < FOLDER_COUNT; i++) {
        const char *word = folder_names[i];
        const size_t length = f->path[i] ? strlen(f->path[i]) : 0, shorter = strlen(word);
        for (char *at = message->text; length > shorter && (at = strstr(at, f->path[i]));) {
            memcpy(at, word, shorter);
            memmove(at + shorter, at + length, strlen(at + length) + 1);
            at += shorter;
        }
    }
}

/* ------------------------------------------------------------------ reading */

caber_status folders_read(const folders *f, int folder, const char *kind, const char *name,
                          char **text, size_t *size, caber_message *message)
{
    arena a = {NULL};
    const char *bytes = NULL;
    char *path = folders_path(f, folder, kind, name);
    caber_status status = path ? source_read_within(&a, &f->fence, path, &bytes, size, message)
                               : message_set(message, CABER_NO_MEMORY, "out of memory");
    *text = status == CABER_OK ? malloc(*size + 1) : NULL;
    if (*text)
        memcpy(*text, bytes, *size + 1);
    else if (status == CABER_OK)
        status = message_set(message, CABER_NO_MEMORY, "out of memory");
    free(path);
    arena_free(&a);
    return status;
}

static const char *text_of(const node *root, const char *key)
{
    const node *n = node_get(root, key);
    return n && n->type == NODE_SCALAR ? n->text : "";
}

/* What a list says of one file. `kind` is that of its folder, NULL in the user's. */
static json_t *describe(const folders *f, int folder, const char *kind, const char *name)
{
    arena a = {NULL};
    caber_message message = {""};
    char *text = NULL;
    size_t size;
    node *root;
    json_t *object;
    caber_status status = folders_read(f, folder, kind ? kind : "", name, &text, &size, &message);
    if (status == CABER_OK)
        status = node_parse(&a, name, text, size, &root, &message);
    const char *own = status == CABER_OK ? text_of(root, "kind") : "";
    if (status == CABER_OK && (!folders_has_kind(own) || (kind && strcmp(kind, own))))
        status = message_set(&message, CABER_BAD_INPUT, "%s: its kind is not one that belongs here",
                             name);
    folders_shorten(f, &message);
    if (status == CABER_OK)
        object = json_pack("{ss ss ss ss ss}", "folder", folder_names[folder], "kind", own, "file",
                           name, "name", text_of(root, "name"), "note", text_of(root, "note"));
    else
        object = json_pack("{ss sn ss ss}", "folder", folder_names[folder], "kind", "file", name,
                           "problem", message.text);
    arena_free(&a);
    free(text);
    return object;
}

static int by_name(const struct dirent **a, const struct dirent **b)
{
    return strcmp((*a)->d_name, (*b)->d_name);
}

static int is_listed(const struct dirent *entry)
{
    return folders_is_name(entry->d_name);
}

/* Adds the files of one folder. A folder that is not there has none. */
static int list_folder(const folders *f, int folder, const char *kind, json_t *list)
{
    struct dirent **entries;
    char *path = folders_path(f, folder, kind ? kind : "", "");
    const int count = path ? scandir(path, &entries, is_listed, by_name) : -1;
    int failed = !path;
    for (int i = 0; i < count; i++) {
        if (json_array_size(list) < LIST_MOST)
            failed |= json_array_append_new(list, describe(f, folder, kind, entries[i]->d_name));
        free(entries[i]);
    }
    if (count >= 0)
        free(entries);
    free(path);
    return failed;
}

json_t *folders_list(const folders *f)
{
    json_t *list = json_array();
    int failed = !list;
    for (int k = 0; k < KIND_COUNT; k++)
        failed |= list_folder(f, FOLDER_MODELS, kinds[k][0], list);
    if (f->path[FOLDER_USER])
        failed |= list_folder(f, FOLDER_USER, NULL, list);
    if (!failed)
        return list;
    json_decref(list);
    return NULL;
}

/* ------------------------------------------------------------------ keeping */

static bool write_all(int fd, const char *bytes, size_t size)
{
    while (size) {
        const ssize_t done = write(fd, bytes, size);
        if (done < 0 && errno == EINTR)
            continue;
        if (done <= 0)
            return false;
        bytes += done;
        size -= (size_t)done;
    }
    return fsync(fd) == 0;
}

/* Through the folder's own descriptor, so that no link on the way is followed; a file is written beside
 * under another name and renamed, and a link that stood there is not followed either. */
static caber_status keep_in(int folder, const char *name, const char *text, size_t size,
                            bool *created, caber_message *message)
{
    struct stat info;
    char part[NAME_MOST + 48];
    *created = fstatat(folder, name, &info, AT_SYMLINK_NOFOLLOW) != 0;
    if (!*created && !S_ISREG(info.st_mode))
        return message_set(message, CABER_BAD_INPUT, "%s: what stands there is no ordinary file",
                           name);
    snprintf(part, sizeof part, ".%s.part-%ld", name, (long)getpid());
    unlinkat(folder, part, 0);
    const int fd = openat(folder, part, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0666);
    if (fd < 0)
        return message_set(message, CABER_IO_ERROR, "%s: cannot write: %s", name, strerror(errno));
    bool good = write_all(fd, text, size);
    int reason = errno;
    if (close(fd) && good) {
        good = false;
        reason = errno;
    }
    if (good && renameat(folder, part, folder, name) == 0)
        return message_clear(message);
    reason = good ? errno : reason;
    unlinkat(folder, part, 0);
    return message_set(message, CABER_IO_ERROR, "%s: cannot write: %s", name, strerror(reason));
}

caber_status folders_keep(const folders *f, const char *name, const char *text, size_t size,
                          bool *created, caber_message *message)
{
    const int folder = open(f->path[FOLDER_USER], O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
    if (folder < 0)
        return message_set(message, CABER_IO_ERROR, "the user's folder: %s", strerror(errno));
    const caber_status status = keep_in(folder, name, text, size, created, message);
    close(folder);
    return status;
}
