/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "files/override.h"

#include <string.h>

#include "base/message.h"
#include "base/text.h"

caber_status override_split(arena *a, const char *text, override_text *out, caber_message *message)
{
    const char *equals = strchr(text, '=');
    if (!equals || equals == text) {
        char clip[TEXT_CLIP_SIZE];
        return message_set(message, CABER_BAD_INPUT,
                           "--set %s: write path=value, such as load.grip.rise=\"0.05 s\"",
                           text_clip(text, clip));
    }
    size_t length = (size_t)(equals - text);
    static const char before[] = "--set ";
    char *path = arena_text(a, text, length);
    char *origin = arena_take(a, sizeof before + length);
    if (!origin || !path)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    memcpy(origin, before, sizeof before - 1);
    memcpy(origin + sizeof before - 1, text, length);
    *out = (override_text){path, equals + 1, origin};
    size_t valid = text_utf8_end(text, strlen(text));
    if (text[valid])
        return message_set(message, CABER_BAD_INPUT, "--set: the text is not UTF-8");
    return CABER_OK;
}
