/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The tree of a YAML document: places, what is refused, merging and paths. */
#include "check.h"

#include "arenas.h"

#include <stdlib.h>

#include "files/node.h"

static node *parsed(arena *a, const char *text)
{
    node *root;
    caber_message message = {""};
    if (node_parse(a, "a.yaml", text, strlen(text), &root, &message) != CABER_OK)
        fail_msg("%s", message.text);
    return root;
}

static void assert_refused_bytes(arena *a, const char *text, size_t size, const char *expected)
{
    node *root;
    caber_message message;
    assert_int_equal(node_parse(a, "a.yaml", text, size, &root, &message), CABER_BAD_INPUT);
    assert_string_equal(message.text, expected);
}

static void assert_refused(arena *a, const char *text, const char *expected)
{
    assert_refused_bytes(a, text, strlen(text), expected);
}

static void nodes_know_where_they_stand(void **state)
{
    node *root = parsed(*state, "# a comment\na: 1\nb:\n  - x\n  - {c: '2 m'}\n");
    assert_int_equal(root->type, NODE_MAPPING);
    assert_int_equal(root->count, 2);
    assert_string_equal(root->file, "a.yaml");
    const node *b = node_get(root, "b");
    assert_int_equal(b->type, NODE_SEQUENCE);
    assert_int_equal(b->key_line, 3);
    assert_int_equal(b->key_column, 1);
    const node *c = node_get(b->items[1], "c");
    assert_string_equal(c->text, "2 m");
    assert_int_equal(c->line, 5);
    assert_int_equal(c->column, 9);
    assert_null(node_get(root, "z"));
    assert_null(node_get(b, "c"));
}

static void columns_count_characters(void **state)
{
    node *root = parsed(*state, "\xEF\xBB\xBF{\xC3\xA9t\xC3\xA9: 1, b: 2}\n");
    const node *b = node_get(root, "b");
    assert_non_null(node_get(root, "\xC3\xA9t\xC3\xA9"));
    assert_string_equal(b->text, "2");
    assert_int_equal(b->line, 1); /* the byte-order mark is no column */
    assert_int_equal(b->column, 13);
}

static void what_yaml_allows_and_files_do_not(void **state)
{
    arena *a = *state;
    assert_refused(a, "a: 1\nb: 2\na: 3\n", "a.yaml:3:1: a: this key was given before, in line 1");
    assert_refused(a, "a: {b: 1, b: 2}\n", "a.yaml:1:11: b: this key was given before, in line 1");
    assert_refused(
        a, "a: &x 1\n",
        "a.yaml:1:4: an anchor (&name) is not allowed; write the value where it is used");
    assert_refused(
        a, "&x a: 1\n",
        "a.yaml:1:1: an anchor (&name) is not allowed; write the value where it is used");
    assert_refused(a, "a: *x\n",
                   "a.yaml:1:4: an alias (*name) is not allowed; write the value itself");
    assert_refused(a, "a: !!str 1\n", "a.yaml:1:4: a tag (!name) is not allowed");
    assert_refused(a, "a: !thing {b: 1}\n", "a.yaml:1:4: a tag (!name) is not allowed");
    assert_refused(
        a, "a: &x [1]\n",
        "a.yaml:1:4: an anchor (&name) is not allowed; write the value where it is used");
    assert_refused(a, "a: 1\n---\nb: 2\n",
                   "a.yaml:2:1: a second document begins here; a file holds one");
    assert_refused(a, "{a: 1}: 2\n", "a.yaml:1:1: a key must be a word");
    assert_refused(a, "'': 2\n", "a.yaml:1:1: a key may not be empty");
    assert_refused(a, "a: \"x\\0y\"\n", "a.yaml:1:4: a value may not hold a zero byte");
}

static void what_is_not_yaml(void **state)
{
    arena *a = *state;
    assert_refused(a, "", "a.yaml:1:1: this file is empty");
    assert_refused(a, "# nothing\n", "a.yaml:2:1: this file is empty");
    assert_refused(a, "a: [1, 2\nb: 3\n",
                   "a.yaml:2:2: this is not YAML: while parsing a flow sequence, did not find "
                   "expected ',' or ']'");
    assert_refused(a, "a: 1\n\tb: 2\n",
                   "a.yaml:2:1: this is not YAML: while scanning a plain scalar, found a tab "
                   "character that violates indentation");
    assert_refused(a, "a: \"open\n",
                   "a.yaml:2:1: this is not YAML: while scanning a quoted scalar, found unexpected "
                   "end of stream");
    assert_refused(a, "a: 1\nb\xC3\xA9: \xE9\n",
                   "a.yaml:2:5: the byte 0xE9 here is not UTF-8; save the file as UTF-8");
    node *root;
    caber_message message;
    assert_int_equal(node_parse(a, "a.yaml", "a: \x01\n", 5, &root, &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "control characters are not allowed"));
    assert_int_equal(node_parse(a, "a.yaml", "a: \0\n", 5, &root, &message), CABER_BAD_INPUT);
}

static void hostile_sizes_are_refused_quickly(void **state)
{
    arena *a = *state;
    size_t size = NODE_MOST_BYTES;
    char *text = malloc(size + 2);
    assert_non_null(text);
    memset(text, '[', size + 1);
    text[size + 1] = '\0';
    assert_refused_bytes(a, text, size,
                         "a.yaml:1:33: nested too deeply; at most 32 levels are allowed");
    assert_refused_bytes(a, text, size + 1,
                         "a.yaml: has 4194305 bytes; at most 4194304 are allowed");
    memcpy(text, "[", 1);
    for (size_t i = 1; i + 1 < size; i += 2)
        memcpy(text + i, "1,", 2);
    assert_refused_bytes(a, text, size,
                         "a.yaml:1:500000: too many values; at most 250000 are allowed");
    size_t used = 0;
    for (int i = 0; i < NODE_MOST_KEYS + 1; i++)
        used += (size_t)snprintf(text + used, size - used, "k%d: 1\n", i);
    assert_refused_bytes(a, text, used,
                         "a.yaml:201:1: too many keys in one mapping; at most 200 are allowed");
    free(text);
}

static void merging_replaces_and_goes_down(void **state)
{
    arena *a = *state;
    node *base = parsed(a, "a: 1\nm: {x: 1, y: 2}\nl: [1, 2]\nk: 5\n");
    node *over = parsed(a, "a: 9\nm: {y: 7, z: 8}\nl: [3]\nk: {n: 1}\nnew: 4\n");
    assert_int_equal(node_merge(a, base, over), CABER_OK);
    assert_int_equal(base->count, 5);
    assert_string_equal(node_get(base, "a")->text, "9");
    const node *m = node_get(base, "m");
    assert_string_equal(node_get(m, "x")->text, "1");
    assert_string_equal(node_get(m, "y")->text, "7");
    assert_string_equal(node_get(m, "z")->text, "8");
    assert_int_equal(node_get(base, "l")->count, 1);
    assert_string_equal(node_get(node_get(base, "k"), "n")->text, "1");
    assert_string_equal(node_get(base, "new")->text, "4");
}

static void taking_and_putting(void **state)
{
    arena *a = *state;
    node *root = parsed(a, "a: 1\nb: 2\nc: 3\n");
    node *b = node_take(root, "b");
    assert_string_equal(b->text, "2");
    assert_null(node_take(root, "b"));
    assert_int_equal(root->count, 2);
    assert_int_equal(node_put(a, root, "c", b), CABER_OK);
    assert_int_equal(root->count, 2);
    assert_string_equal(node_get(root, "c")->text, "2");
}

static void paths_set_values(void **state)
{
    arena *a = *state;
    caber_message message;
    node *root = parsed(a, "a: {b: [{c: 1}]}\n");
    assert_int_equal(node_set_path(a, root, "a.b[0].c", "2", "--set a.b[0].c", &message), CABER_OK);
    const node *c = node_find(root, "a.b[0].c");
    assert_string_equal(c->text, "2");
    assert_string_equal(c->file, "--set a.b[0].c");
    assert_int_equal(c->line, 0);
    assert_int_equal(node_set_path(a, root, "a.b[1].c", "3", "x", &message), CABER_OK);
    assert_string_equal(node_find(root, "a.b[1].c")->text, "3");
    assert_int_equal(node_set_path(a, root, "a.b[1]", "5", "x", &message), CABER_OK);
    assert_int_equal(node_find(root, "a.b[1]")->type, NODE_SCALAR);
    assert_int_equal(node_set_path(a, root, "n.l[0][0]", "4", "x", &message), CABER_OK);
    assert_string_equal(node_find(root, "n.l[0][0]")->text, "4");
    /* What is not there is answered by what is nearest above it. */
    assert_ptr_equal(node_find(root, "a.b[0].zz"), node_find(root, "a.b[0]"));
    assert_ptr_equal(node_find(root, "zz"), root);
}

static void assert_path_refused(arena *a, node *root, const char *path, const char *expected)
{
    caber_message message;
    assert_int_equal(node_set_path(a, root, path, "1", "--set it", &message), CABER_BAD_INPUT);
    assert_string_equal(message.text, expected);
}

static void paths_that_lead_nowhere(void **state)
{
    arena *a = *state;
    node *root = parsed(a, "a: {b: [1]}\nv: 1\n");
    static const char *const malformed[] = {"",
                                            "a..b",
                                            ".a",
                                            "a.",
                                            "a[",
                                            "a[]",
                                            "[0]",
                                            "a[-1]",
                                            "a[1]b",
                                            "a b",
                                            "a[0x1]",
                                            "a.b[0].",
                                            "a[99999999999999999999]"};
    for (size_t i = 0; i < sizeof malformed / sizeof malformed[0]; i++)
        assert_path_refused(
            a, root, malformed[i],
            "--set it: the path is malformed; write keys with points and indices in "
            "brackets, such as shaft.stations[0].ei");
    assert_path_refused(a, root, "v.x",
                        "--set it: \"x\" cannot be set: what stands before it is a value, not a "
                        "mapping");
    assert_path_refused(a, root, "a[0]",
                        "--set it: [0] cannot be set: what stands before it is a mapping, not a "
                        "list");
    assert_path_refused(a, root, "a.b[2]",
                        "--set it: [2] cannot be set: the list has 1 entries, so the index is at "
                        "most 1, which appends");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(nodes_know_where_they_stand, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(columns_count_characters, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(what_yaml_allows_and_files_do_not, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(what_is_not_yaml, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(hostile_sizes_are_refused_quickly, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(merging_replaces_and_goes_down, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(taking_and_putting, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(paths_set_values, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(paths_that_lead_nowhere, open_arena, close_arena),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
