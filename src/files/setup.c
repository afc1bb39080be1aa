/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A setup file: the files it names are laid under its own keys, overrides are set on the tree,
 * then the whole tree is read through the field table and checked. */
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/text.h"
#include "files/csv.h"
#include "files/decode.h"
#include "files/files.h"
#include "files/override.h"
#include "files/source.h"
#include "swing/check.h"

static const char *const part_names[] = {"shaft", "head", "grip", "player"};
enum { PART_COUNT = sizeof part_names / sizeof part_names[0] };

/* One reading of a setup. */
typedef struct setup_reading {
    arena a;
    decoding d;
    const char *file; /* path of the setup, or its name when the text was in memory */
    bool on_disk;
    const source_fence *fence; /* where files may be; NULL = anywhere */
    node *root;
    caber_message *message;
} setup_reading;

static caber_status no_memory(const setup_reading *r)
{
    return message_set(r->message, CABER_NO_MEMORY, "%s: out of memory", r->file);
}

static const field_group *kind_named(const char *kind)
{
    const field_group *group = NULL;
    for (size_t i = 0; (group = fields_kind(i)) && strcmp(group->kind, kind); i++)
        continue;
    return group;
}

/* ------------------------------------------------------------------ files and their kinds */

static caber_status parse_kind(setup_reading *r, const char *file, const char *text, size_t size,
                               const char *kind, node **out)
{
    caber_status status = node_parse(&r->a, file, text, size, out, r->message);
    return status == CABER_OK ? decode_check_kind(*out, kind, r->message) : status;
}

/* Reads the file that `reference` names, as the setup's part `kind`. */
static caber_status load_part(setup_reading *r, const node *reference, const char *kind, node **out)
{
    if (reference->type != NODE_SCALAR || !reference->text[0])
        return node_error(reference, kind, r->message, "the path of a %s file is wanted", kind);
    const char *path = source_path(&r->a, reference->line ? reference->file : "", reference->text);
    if (!path)
        return no_memory(r);
    if (r->on_disk && source_is_same(path, r->file))
        return node_error(reference, kind, r->message,
                          "%s: this is the setup itself; a %s file is wanted", path, kind);
    const char *text;
    size_t size;
    caber_message problem;
    caber_status status = source_read_within(&r->a, r->fence, path, &text, &size, &problem);
    if (status != CABER_OK) {
        node_error(reference, kind, r->message, "%s", problem.text);
        return status;
    }
    status = parse_kind(r, path, text, size, kind, out);
    if (status != CABER_OK)
        return status;
    const node *sections = node_get(*out, "sections");
    if (sections && !strcmp(kind, "shaft"))
        return node_error(sections, "sections", r->message,
                          "is not allowed in the shaft's own file; a setup has it, beside the key "
                          "file");
    return decode_check_keys(&r->d, kind_named(kind), *out);
}

/* Puts the file that a part names in the part's place, with the setup's own keys laid over it. */
static caber_status resolve_part(setup_reading *r, const char *kind)
{
    node *part = node_get(r->root, kind);
    if (!part)
        return node_error(r->root, kind, r->message,
                          "is missing; give the path of a %s file, or a mapping", kind);
    bool here = part->type != NODE_SCALAR;
    node *reference = here ? node_take(part, "file") : part;
    if (!reference)
        return CABER_OK;
    node *base;
    caber_status status = load_part(r, reference, kind, &base);
    if (status != CABER_OK)
        return status;
    if (here && node_merge(&r->a, base, part) != CABER_OK)
        return no_memory(r);
    return node_put(&r->a, r->root, kind, base) == CABER_OK ? CABER_OK : no_memory(r);
}

/* Lays the setup's `load` over the player's. */
static caber_status resolve_load(setup_reading *r)
{
    node *load = node_take(r->root, "load");
    if (!load)
        return CABER_OK;
    if (load->type != NODE_MAPPING)
        return node_error(load, "load", r->message,
                          "a mapping is wanted, with the keys hub, grip, roll, stop");
    node *player = node_get(r->root, "player");
    if (player->type != NODE_MAPPING)
        return CABER_OK; /* said when the player is decoded */
    node *old = node_get(player, "load");
    caber_status status = old && old->type == NODE_MAPPING ? node_merge(&r->a, old, load)
                                                           : node_put(&r->a, player, "load", load);
    return status == CABER_OK ? status : no_memory(r);
}

/* ------------------------------------------------------------------ overrides */

bool files_names_part(const char *path)
{
    for (size_t i = 0; i < PART_COUNT; i++) {
        size_t length = strlen(part_names[i]);
        if (!strncmp(path, part_names[i], length) &&
            (!path[length] || !strcmp(path + length, ".file")))
            return true;
    }
    return false;
}

/* "load" in a path is the player's, as in a file. */
static const char *full_path(setup_reading *r, const char *path)
{
    if (strcmp(path, "load") && strncmp(path, "load.", 5))
        return path;
    static const char player[] = "player.";
    char *full = arena_take(&r->a, sizeof player + strlen(path));
    if (full) {
        strcpy(full, player);
        strcat(full, path);
    }
    return full;
}

/* A part given as a path becomes {file: path}, so that keys can be set beside it. */
static caber_status open_part(setup_reading *r, const char *path)
{
    char kind[16];
    size_t length = strcspn(path, ".");
    if (length >= sizeof kind || !path[length])
        return CABER_OK;
    memcpy(kind, path, length);
    kind[length] = '\0';
    node *part = node_get(r->root, kind);
    if (!part || part->type != NODE_SCALAR)
        return CABER_OK;
    node *mapping = arena_take(&r->a, sizeof *mapping);
    if (!mapping)
        return no_memory(r);
    *mapping = (node){.type = NODE_MAPPING,
                      .file = part->file,
                      .line = part->line,
                      .column = part->column,
                      .key_line = part->key_line,
                      .key_column = part->key_column};
    if (node_put(&r->a, r->root, kind, mapping) != CABER_OK ||
        node_put(&r->a, mapping, "file", part) != CABER_OK)
        return no_memory(r);
    return CABER_OK;
}

/* Sets the overrides that name files, or all others. */
static caber_status apply_overrides(setup_reading *r, const char *const *overrides, size_t count,
                                    bool files)
{
    for (size_t i = 0; i < count; i++) {
        override_text o;
        caber_status status = override_split(&r->a, overrides[i], &o, r->message);
        if (status != CABER_OK)
            return status;
        if (files_names_part(o.path) != files)
            continue;
        if (files)
            status = open_part(r, o.path);
        const char *path = full_path(r, o.path);
        if (!path)
            return no_memory(r);
        if (status == CABER_OK)
            status = node_set_path(&r->a, r->root, path, o.value, o.origin, r->message);
        if (status != CABER_OK)
            return status;
    }
    return CABER_OK;
}

/* ------------------------------------------------------------------ decoding and checking */

/* setup_check begins its message with the field: the place it was read from goes in front. */
static caber_status check_setup(setup_reading *r, const caber_setup *setup)
{
    caber_message problem;
    caber_status status = setup_check(setup, &problem);
    if (status == CABER_OK)
        return CABER_OK;
    char *colon = strstr(problem.text, ": ");
    if (!colon)
        return message_set(r->message, status, "%s: %s", r->file, problem.text);
    *colon = '\0';
    const node *where = node_find(r->root, problem.text);
    node_error(where, decode_shown_path(&r->d, where, problem.text), r->message, "%s", colon + 2);
    return status;
}

static caber_status decode_setup(setup_reading *r, caber_setup **out)
{
    caber_setup *setup = calloc(1, sizeof *setup);
    if (!setup)
        return no_memory(r);
    caber_status status = decode_group(&r->d, fields_kind_setup(), r->root, r->root, setup);
    if (status == CABER_OK)
        status = check_setup(r, setup);
    if (status == CABER_OK)
        *out = setup;
    else
        caber_setup_free(setup);
    return status;
}

static caber_status read_tree(setup_reading *r, const char *text, size_t size,
                              const char *const *overrides, size_t count)
{
    caber_status status = parse_kind(r, r->file, text, size, "setup", &r->root);
    if (status == CABER_OK)
        status = apply_overrides(r, overrides, count, true);
    for (size_t i = 0; i < PART_COUNT && status == CABER_OK; i++)
        status = resolve_part(r, part_names[i]);
    if (status == CABER_OK)
        status = resolve_load(r);
    if (status == CABER_OK)
        status = apply_overrides(r, overrides, count, false);
    return status;
}

static caber_status read_setup(setup_reading *r, const char *text, size_t size,
                               const char *const *overrides, size_t count, caber_setup **out)
{
    r->d = (decoding){.a = &r->a, .file = r->file, .fence = r->fence, .message = r->message};
    caber_status status = read_tree(r, text, size, overrides, count);
    if (status == CABER_OK)
        status = decode_setup(r, out);
    return status == CABER_OK ? message_clear(r->message) : status;
}

caber_status files_read_text_within(const source_fence *fence, const char *name, const char *text,
                                    size_t size, const char *const *overrides,
                                    size_t override_count, caber_setup **out,
                                    caber_message *message)
{
    *out = NULL;
    setup_reading r = {.file = name, .fence = fence, .message = message};
    caber_status status = read_setup(&r, text, size, overrides, override_count, out);
    arena_free(&r.a);
    return status;
}

caber_status files_read_text(const char *name, const char *text, size_t size,
                             const char *const *overrides, size_t override_count, caber_setup **out,
                             caber_message *message)
{
    return files_read_text_within(NULL, name, text, size, overrides, override_count, out, message);
}

caber_status files_read_setup_within(const source_fence *fence, const char *path,
                                     const char *const *overrides, size_t override_count,
                                     caber_setup **out, caber_message *message)
{
    *out = NULL;
    setup_reading r = {.file = path, .on_disk = true, .fence = fence, .message = message};
    const char *text;
    size_t size;
    caber_status status = source_read_within(&r.a, fence, path, &text, &size, message);
    if (status == CABER_OK)
        status = read_setup(&r, text, size, overrides, override_count, out);
    arena_free(&r.a);
    return status;
}

caber_status caber_setup_read(const char *path, const char *const *overrides, size_t override_count,
                              caber_setup **out, caber_message *message)
{
    return files_read_setup_within(NULL, path, overrides, override_count, out, message);
}

void caber_setup_free(caber_setup *setup)
{
    if (!setup)
        return;
    free(setup->shaft.stations);
    free(setup->shaft.errors.share);
    free(setup->sections.items);
    free(setup->head.weights.items);
    csv_table_free(&setup->player.load.hub.table);
    csv_table_free(&setup->player.load.grip.table);
    csv_table_free(&setup->player.load.roll.table);
    free(setup->player.repeat.pairings);
    free(setup);
}
