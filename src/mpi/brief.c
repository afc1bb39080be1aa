/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "mpi/brief.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "files/files.h"
#include "study/store_chunk.h"

char *brief_pack(const char *path, const char *const *overrides, size_t override_count,
                 const char *identity, brief_head *head)
{
    char *block = NULL;
    FILE *out = open_memstream(&block, &head->size);
    if (!out)
        return NULL;
    fputs(path, out);
    fputc('\0', out);
    for (size_t i = 0; i < override_count; i++) {
        fputs(overrides[i], out);
        fputc('\0', out);
    }
    fputs(identity, out);
    fputc('\0', out);
    head->overrides = override_count;
    const bool failed = ferror(out) != 0;
    if (fclose(out) == 0 && !failed)
        return block;
    free(block);
    return NULL;
}

static caber_status brief_compare(const caber_study *plan, const char *wanted,
                                  caber_message *message)
{
    char *own;
    caber_status status = files_study_identity(plan, &own, message);
    if (status == CABER_OK && strcmp(own, wanted) != 0) {
        char difference[700];
        store_key_difference(own, wanted, difference, sizeof difference);
        status = message_set(message, CABER_BAD_INPUT,
                             "what it reads is another study than rank 0's: %s", difference);
    }
    free(own);
    return status;
}

caber_status brief_read(const brief_head *head, const char *block, caber_study **plan,
                        caber_message *message)
{
    *plan = NULL;
    const char **overrides = calloc(head->overrides + 1, sizeof *overrides);
    if (!overrides)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    const char *at = block + strlen(block) + 1;
    for (size_t i = 0; i < head->overrides; i++) {
        overrides[i] = at;
        at += strlen(at) + 1;
    }
    caber_status status = caber_study_read(block, overrides, head->overrides, plan, message);
    free(overrides);
    if (status == CABER_OK)
        status = brief_compare(*plan, at, message);
    if (status != CABER_OK) {
        caber_study_free(*plan);
        *plan = NULL;
    }
    return status;
}
