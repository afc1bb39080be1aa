/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Where an input stands in a setup, by its path in a file: "load.grip.rise", "shaft.sections[0].ei_scale".
 * Found once, it is read and set in any number of setups without a file. */
#ifndef SWING_FIELD_ADDRESS_H
#define SWING_FIELD_ADDRESS_H

#include "caber.h"
#include "swing/fields_table.h"

/* Which part of the computation an input belongs to. */
typedef enum field_part {
    FIELD_PART_CLUB,   /* shaft, head, grip, build, settings; how the player drives a joint */
    FIELD_PART_PLAYER, /* everything else of the player: model_set_player takes it */
    FIELD_PART_FLIGHT  /* ball and air */
} field_part;

/* An input that one number says: a quantity (SI), a whole number, yes (1) or no (0), or a word (its place
 * among the field's words). Offsets are in bytes. */
typedef struct field_address {
    char path[200]; /* in full: "player.load.grip.rise" */
    const field *field;
    field_part part;
    const field *list; /* the list it stands in, or NULL */
    size_t holder;     /* of the struct that the list stands in, from the setup */
    size_t index;      /* of the list's entry */
    size_t owner;      /* of the struct the field stands in, from the setup or the entry */
} field_address;

/* Finds a path. Errors: CABER_BAD_INPUT, saying which part of the path there is not, or that what stands
 * there is no single value. */
caber_status field_address_find(const char *path, field_address *out, caber_message *message);

/* Whether the setup has the list's entry that the address is in; the functions below need it. */
bool field_address_exists(const field_address *a, const caber_setup *setup);
/* Whether the setup uses the input: another drive may leave it aside. */
bool field_address_used(const field_address *a, const caber_setup *setup);
double field_address_get(const field_address *a, const caber_setup *setup);
/* Given a value that field_address_check has let through. */
void field_address_set(const field_address *a, caber_setup *setup, double value);

/* Errors: CABER_BAD_INPUT for a value out of the field's range, or for a fraction where only a whole
 * number, yes or no, or a word stands; the message does not begin with the path. */
caber_status field_address_check(const field_address *a, double value, caber_message *message);
/* Given the text of a value as in a file; returns its number. Errors: as field_address_check, and those of
 * quantity_parse. */
caber_status field_address_parse(const field_address *a, const char *text, double *value,
                                 caber_message *message);
/* Returns the unit a value is printed in; "" for what is no quantity. */
const unit *field_address_unit(const field_address *a);
/* Writes a value as it stands in a file: what field_address_parse reads back to the same number. */
void field_address_write(const field_address *a, double value, char *text, size_t size);

#endif
