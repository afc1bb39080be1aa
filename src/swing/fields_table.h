/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Every input, once: its key in a file, where it stands in a struct of caber.h, its unit, range,
 * default and meaning. The file reader and writer, the reference page and the check of setups
 * filled by hand all work from these tables, so they cannot disagree. */
#ifndef SWING_FIELDS_TABLE_H
#define SWING_FIELDS_TABLE_H

#include <stdbool.h>
#include <stddef.h>

#include "base/units.h"

typedef enum field_type {
    FIELD_QUANTITY, /* double */
    FIELD_INTEGER,  /* int */
    FIELD_BOOLEAN,  /* bool: yes or no */
    FIELD_WORD,     /* an enum of caber.h: one of `words` */
    FIELD_TEXT,     /* char[max] */
    FIELD_GROUP,    /* keys of their own: `group` */
    FIELD_LIST,     /* a pointer to structs and a count; one `group` an entry */
    FIELD_TABLE,    /* caber_table, in a struct that begins with a caber_drive */
    FIELD_ROWS,     /* field_rows, from a CSV file whose columns are `group` */
    FIELD_ERRORS,   /* caber_errors, in a caber_shaft; as a CSV its columns are `group` */
    FIELD_TEXTS     /* field_texts: a list of texts, only in a file */
} field_type;

enum {
    FIELD_REQUIRED = 1, /* a file must give it */
    FIELD_ABOVE = 2,    /* min itself is not allowed */
    FIELD_BELOW = 4,    /* max itself is not allowed */
    FIELD_OPEN = 8      /* may be left open: NAN in the struct */
};

/* The most that files may hold. */
enum {
    FIELD_TABLE_LEAST = 4,
    FIELD_TABLE_MOST = 100000,
    FIELD_ERRORS_MOST = 30000 /* rows: components times stations */
};

typedef struct field_group field_group;

typedef struct field {
    const char *name;
    field_type type;
    unsigned flags;
    dimension dim;
    const char *unit; /* symbol of the unit it is printed in */
    double min, max;  /* SI; of a list, table or rows: how many; of a text: max is its size */
    double fallback;  /* SI; what an absent key means */
    const char *fallback_text; /* the default in words, where the number says too little */
    const char *meaning;
    size_t offset;
    const field_group *group;
    const char *const
        *words;          /* by value of the enum, "" for one that is not allowed; ends in NULL */
    size_t count_offset; /* of the size_t beside a list */
    size_t item_size;
    /* Given the struct the field stands in, as far as it has been read: whether the field is used
     * at all (NULL = always), and whether a file must give it (NULL = as FIELD_REQUIRED says). */
    bool (*used)(const void *object);
    bool (*needed)(const void *object);
    const char *needed_text; /* when `needed` is true, in words */
} field;

struct field_group {
    const char *kind; /* the word behind `kind:` in a file of its own; NULL = only inside others */
    const char *meaning; /* one line */
    const char *also;    /* a key beside `fields` that the reader takes care of, or NULL */
    const field *fields;
    size_t count;
    size_t size;                /* of the struct, where the reader makes one */
    void (*fill)(void *object); /* sets the defaults of numbers that are kept elsewhere, or NULL */
};

/* Numbers in rows and named columns, and where they stand, for messages. */
typedef struct field_rows {
    size_t count;
    double *cell;  /* [count][columns of the group], SI; NAN = not given; owned */
    size_t *line;  /* [count], of each row; owned */
    size_t *place; /* like cell: where in its line a cell begins, 0 = no such column; owned */
    char *file;    /* as it stands in messages; owned */
    char *path;    /* as the file that names it says; owned */
} field_rows;

/* Frees what rows own and empties them. */
void field_rows_free(field_rows *rows);

/* Texts as they stand in a file. */
typedef struct field_texts {
    size_t count;
    char **items; /* owned, and each of them */
} field_texts;

/* Frees what texts own and empties them. */
void field_texts_free(field_texts *texts);

/* ------------------------------------------------------------------ a readings file */

/* Columns of the readings of a jig, in the order of its CSV's group. */
enum { SPAN_AT, SPAN_SPAN, SPAN_LOAD, SPAN_LOAD_AT, SPAN_READ_AT, SPAN_ORIENTATION, SPAN_VALUE };
enum { BEND_CLAMP, BEND_LOAD_AT, BEND_READ_AT, BEND_LOAD, BEND_ORIENTATION, BEND_VALUE };
enum { RING_CLAMP, RING_TIP_MASS, RING_ORIENTATION, RING_VALUE };
enum { TWIST_CLAMP, TWIST_LEVER, TWIST_READ_AT, TWIST_COUPLE, TWIST_VALUE };
/* Columns of the errors of a shaft. */
enum { ERRORS_COMPONENT, ERRORS_AT, ERRORS_EI, ERRORS_GJ, ERRORS_MASS, ERRORS_COLUMNS };

/* How a jig was set, and what was read on it. NAN = each row says it. */
typedef struct readings_jig {
    double span, clamp, load_at, read_at; /* m */
    double load;                          /* N; N m of a twist; kg of a tip mass */
    double resolution;                    /* step of the scale, in the unit of the reading */
    double repeatability;                 /* 1, standard deviation over the reading */
    field_rows rows;
} readings_jig;

typedef struct readings_jigs {
    size_t count;
    readings_jig *items; /* owned */
} readings_jigs;

/* A reading that is to be kept out of the fit. */
typedef struct readings_omission {
    char table[CABER_NOTE_SIZE];
    int line;
} readings_omission;

/* A readings file in its own words. */
typedef struct readings_sheet {
    caber_readings readings; /* without items */
    double mass, mass_error, balance, balance_error;
    readings_jigs spans, cantilevers, frequencies, twists;
    size_t omission_count;
    readings_omission *omissions; /* owned */
} readings_sheet;

/* ------------------------------------------------------------------ a mapping file */

/* What stands between two cells of a line; the order is that of the words. */
typedef enum mapping_separator { MAPPING_COMMA, MAPPING_SEMICOLON, MAPPING_TAB } mapping_separator;
/* What becomes of a column that nothing knows. */
typedef enum mapping_others { MAPPING_REFUSE, MAPPING_IGNORE } mapping_others;

/* A column of a file of shots, in its own words. */
typedef struct mapping_column {
    char column[CABER_NAME_SIZE];
    char quantity[CABER_NAME_SIZE]; /* a caber_measurable, or setup, shot or ignore */
    char unit[CABER_NAME_SIZE];     /* "" = as the file says */
    bool reversed;
} mapping_column;

/* A mapping file. */
typedef struct mapping_sheet {
    char name[CABER_NAME_SIZE];
    char note[CABER_NOTE_SIZE];
    mapping_separator separator;
    int skip, skip_after; /* lines before the row of names, and behind it */
    char missing[CABER_NAME_SIZE];
    mapping_others others;
    size_t column_count;
    mapping_column *columns; /* owned */
} mapping_sheet;

/* ------------------------------------------------------------------ a study file */

/* A factor in its own words; "" and no texts = not given. Quantities are texts, for their dimension is that
 * of the input. */
typedef struct study_factor_sheet {
    char name[CABER_NAME_SIZE], path[CABER_NAME_SIZE];
    char from[CABER_NAME_SIZE], to[CABER_NAME_SIZE];
    unsigned distribution; /* a factor_spread */
    char mean[CABER_NAME_SIZE], sd[CABER_NAME_SIZE], peak[CABER_NAME_SIZE];
    int levels; /* 0 = not given, as all counts here */
    field_texts values, files;
} study_factor_sheet;

typedef struct study_design_sheet {
    unsigned kind; /* a design_kind */
    int cases, rows, trajectories, levels;
    unsigned sampling; /* a design_rows */
    bool both, plain;
    char file[CABER_NOTE_SIZE];
} study_design_sheet;

typedef struct study_series_sheet {
    field_texts outputs;
    double step, until; /* s */
} study_series_sheet;

/* A study file. */
typedef struct study_sheet {
    char name[CABER_NAME_SIZE];
    char note[CABER_NOTE_SIZE];
    char setup[CABER_NOTE_SIZE];
    field_texts set;
    int seed, replicates;
    size_t factor_count;
    study_factor_sheet *factors; /* owned */
    study_design_sheet design;
    field_texts outputs;
    study_series_sheet series;
} study_sheet;

/* Frees what a sheet owns and empties it. */
void study_sheet_free(study_sheet *sheet);

/* The kinds of files. The group of a setup holds shaft, head, grip and player. */
const field_group *fields_kind_setup(void);
const field_group *fields_kind_readings(void);
const field_group *fields_kind_mapping(void);
const field_group *fields_kind_study(void);
/* Returns kind number i of shaft, head, grip, player, setup, readings, mapping, study; NULL beyond. */
const field_group *fields_kind(size_t i);

/* A place inside a setup, "player.load.hub.peak" or "shaft.stations[3].ei". */
typedef struct field_path {
    char text[200];
    size_t length;
} field_path;

/* Appends a key, or an index; returns the length before, for field_path_cut. */
size_t field_path_key(field_path *path, const char *key);
size_t field_path_index(field_path *path, size_t index);
void field_path_cut(field_path *path, size_t length);

/* Given the struct that the field stands in; returns whether it is used, and whether a file must
 * give it. */
bool field_used(const field *f, const void *object);
bool field_needed(const field *f, const void *object);
/* Given the struct of a FIELD_TABLE; returns the dimension of the table's values. */
dimension field_table_dimension(const void *object);
/* Returns whether a number lies in the field's range; for FIELD_QUANTITY and FIELD_INTEGER. */
bool field_allows(const field *f, double value);
/* Writes the range: "above 0 and at most 1000 N m2". */
void field_range(const field *f, char *text, size_t size);
/* Writes the allowed words: "torque, motion or locked". */
void field_words(const field *f, char *text, size_t size);
/* Returns how many words the list has, with the ones that are not allowed. */
size_t field_word_count(const field *f);

/* Checks every field of a struct by its own: ranges, words, counts, texts, tables. `path` is where
 * the struct stands. Errors: CABER_BAD_INPUT, and a message that begins with the field's path. */
caber_status fields_check(const field_group *group, const void *object, field_path *path,
                          caber_message *message);

#endif
