/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Paths relative to the file that names them. */
#include "check.h"

#include "arenas.h"

#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "files/source.h"

#define DATA CABER_SOURCE_DIR "/tests/unit/data/"

static void paths_start_at_the_naming_file(void **state)
{
    arena *a = *state;
    static const struct {
        const char *named_in, *path, *result;
    } rows[] = {
        {DATA "setup.yaml", "parts/shaft.yaml", DATA "parts/shaft.yaml"},
        {DATA "parts/x.yaml", "../setup.yaml", DATA "setup.yaml"},
        {DATA "parts/x.yaml", "./../parts/./head.yaml", DATA "parts/head.yaml"},
        {DATA "parts/x.yaml", "../../data/setup.yaml", DATA "setup.yaml"},
        {DATA "setup.yaml", DATA "parts/grip.yaml", DATA "parts/grip.yaml"},
        {"", DATA "parts/grip.yaml", DATA "parts/grip.yaml"},
        {"no-folder.yaml", "x.yaml", "x.yaml"},
        /* What is not there is named as it was put together. */
        {"a/b/c.yaml", "../x.yaml", "a/b/../x.yaml"},
        {"", "../x.yaml", "../x.yaml"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_string_equal(source_path(a, rows[i].named_in, rows[i].path), rows[i].result);
}

/* link/.. is not the folder that holds the link. */
static void links_keep_their_meaning(void **state)
{
    arena *a = *state;
    char folder[] = "/tmp/caber-source-XXXXXX", link[64], wanted[128];
    assert_non_null(mkdtemp(folder));
    snprintf(link, sizeof link, "%s/link", folder);
    assert_int_equal(symlink(DATA "parts", link), 0);
    snprintf(wanted, sizeof wanted, "%s/../setup.yaml", link);
    strcat(link, "/x.yaml");
    const char *path = source_path(a, link, "../setup.yaml");
    assert_string_equal(path, wanted);
    assert_true(source_is_same(path, DATA "setup.yaml"));
    link[strlen(link) - strlen("/x.yaml")] = '\0';
    assert_int_equal(unlink(link), 0);
    assert_int_equal(rmdir(folder), 0);
}

static void files_are_read_whole(void **state)
{
    arena *a = *state;
    const char *text;
    size_t size;
    caber_message message;
    assert_int_equal(source_read(a, DATA "bad.yaml", &text, &size, &message), CABER_OK);
    assert_int_equal(strlen(text), size);
    assert_non_null(strstr(text, "kind: setup"));
}

static void what_is_no_file_is_not_opened(void **state)
{
    arena *a = *state;
    const char *text;
    size_t size;
    caber_message message;
    char folder[] = "/tmp/caber-source-XXXXXX", path[64], expected[128];
    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/pipe", folder);
    assert_int_equal(mkfifo(path, 0600), 0); /* opening it would wait for ever */
    snprintf(expected, sizeof expected, "%s: this is not an ordinary file", path);
    assert_int_equal(source_read(a, path, &text, &size, &message), CABER_IO_ERROR);
    assert_string_equal(message.text, expected);
    assert_int_equal(unlink(path), 0);
    assert_int_equal(rmdir(folder), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(paths_start_at_the_naming_file, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(links_keep_their_meaning, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(files_are_read_whole, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(what_is_no_file_is_not_opened, open_arena, close_arena),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
