/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Setups, studies and readings from files, setups and shafts to files, and the reference page of their
 * keys. caber_setup_read, caber_setup_free, caber_readings_read and caber_shaft_write are in
 * caber.h. */
#ifndef FILES_FILES_H
#define FILES_FILES_H

#include <stdio.h>

#include "caber.h"
#include "files/source.h"

/* Like caber_setup_read, from `size` bytes of text already in memory. `name` stands in messages;
 * paths in the text are taken relative to its folder. */
caber_status files_read_text(const char *name, const char *text, size_t size,
                             const char *const *overrides, size_t override_count, caber_setup **out,
                             caber_message *message);

/* The same, and caber_setup_read and caber_readings_read, where every file that is read, also one that a file
 * or an override names, must lie below a folder of the fence (NULL = anywhere). */
caber_status files_read_text_within(const source_fence *fence, const char *name, const char *text,
                                    size_t size, const char *const *overrides,
                                    size_t override_count, caber_setup **out,
                                    caber_message *message);
caber_status files_read_setup_within(const source_fence *fence, const char *path,
                                     const char *const *overrides, size_t override_count,
                                     caber_setup **out, caber_message *message);
caber_status files_read_readings_within(const source_fence *fence, const char *path,
                                        const char *const *overrides, size_t override_count,
                                        caber_readings **out, caber_message *message);

/* Whether a path of an override names another file for shaft, head, grip or player ("shaft",
 * "shaft.file"), and so is set before files are read. */
bool files_names_part(const char *path);

/* Like caber_study_read, likewise from memory; in the text, paths are from the folder of `name`. */
caber_status files_read_study(const char *name, const char *text, size_t size,
                              const char *const *overrides, size_t override_count,
                              caber_study **out, caber_message *message);

/* Given a study; returns all that determines its numbers as text: the program's version, the design, the
 * seed, the factors with what the chosen files say, the outputs and the base setup, but no names, notes
 * and paths. Equal texts are equal numbers. To be freed with free(). Errors: CABER_NO_MEMORY. */
caber_status files_study_identity(const caber_study *study, char **text, caber_message *message);

/* Like caber_readings_read, likewise from memory. */
caber_status files_read_readings(const char *name, const char *text, size_t size,
                                 const char *const *overrides, size_t override_count,
                                 caber_readings **out, caber_message *message);

/* Like caber_measured_read, of one file and perhaps a mapping (NULL = none), likewise from memory. */
caber_status files_read_shots(const char *name, const char *text, size_t size, const char *mapping,
                              size_t mapping_size, caber_measured **out, caber_message *message);

/* Given a setup; writes it as one setup file that refers to no other, and that reads back to the
 * same values, bit for bit. Values that its drives do not use are left out when they are not
 * allowed. Errors: CABER_IO_ERROR. */
caber_status files_write_setup(const caber_setup *setup, FILE *out, caber_message *message);

/* FILES_SCDOC: the source of the manual page caber-files(5). */
typedef enum files_format { FILES_TEXT, FILES_SCDOC } files_format;

/* Writes every kind of file with its keys: unit, range, default and meaning. */
caber_status files_reference(FILE *out, files_format format, caber_message *message);
/* Returns whether there is such a kind of file: shaft, readings... */
bool files_has_kind(const char *kind);
/* Writes the keys of one kind of file as text. */
caber_status files_reference_kind(FILE *out, const char *kind, caber_message *message);

#endif
