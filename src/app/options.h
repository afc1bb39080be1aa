/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The options of the program: one table, from which getopt_long's and the help texts are made. */
#ifndef APP_OPTIONS_H
#define APP_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>

/* X(symbol, name, what follows it or NULL, what it does) in the order of the help texts. */
#define OPTION_LIST(X)                                                                             \
    X(OPTION_SET, "set", "PATH=VALUE", "override an input, such as load.grip.rise=\"0.05 s\"")     \
    X(OPTION_CLAMP, "clamp", "LENGTH,...", "length of butt in the clamp")                          \
    X(OPTION_TIP_MASS, "tip-mass", "MASS,...", "mass on the tip for the cpm; 0 g: the built club") \
    X(OPTION_TORQUE, "torque", "TORQUE", "torque at the tip for the twist")                        \
    X(OPTION_LOAD, "load", "FORCE", "force across the tip for the static bend")                    \
    X(OPTION_SPAN, "span", "LENGTH", "span of the three-point bend")                               \
    X(OPTION_SPAN_LOAD, "span-load", "FORCE", "force in the middle of the span")                   \
    X(OPTION_MODES, "modes", "COUNT", "how many frequencies to list")                              \
    X(OPTION_TRIM_TABLE, "trim-table", NULL, "print instead what cutting the tip does")            \
    X(OPTION_SERIES, "series", "FILE", "write the swing through time to FILE.csv or FILE.h5")      \
    X(OPTION_SENSITIVITY, "sensitivity", NULL, "print instead which part of the shaft does what")  \
    X(OPTION_PARTS, "parts", "COUNT", "into how many parts that cuts the shaft; 10 if not given")  \
    X(OPTION_WITHOUT, "without", "FILE:LINE",                                                      \
      "leave this reading out of the fit; more after commas")                                      \
    X(OPTION_OUTPUT, "output", "SHAFT.yaml", "write the profile as a shaft file, with its errors") \
    X(OPTION_STUDY_FILE, "output", "FILE.h5", "where to; named after STUDY if not given")          \
    X(OPTION_REPORT_FILE, "output", "FILE.html", "where to; named after the first if not given")   \
    X(OPTION_QUESTION, "question", "TEXT", "the sentence that heads it; made if not given")        \
    X(OPTION_UNITS, "units", "WHAT", "metric or trade, which its reader can change; metric")       \
    X(OPTION_PLAN, "plan", NULL, "say what it will take, and write nothing")                       \
    X(OPTION_SHARD, "shard", "K/N", "run part K of N only; caber gather joins the parts")          \
    X(OPTION_RESUME, "resume", NULL, "go on with what the file has already")                       \
    X(OPTION_REPLACE, "replace", NULL, "write it anew, whatever is there")                         \
    X(OPTION_SWINGS, "swings", "COUNT", "how many swings are drawn; 400 if not given")             \
    X(OPTION_FAIRWAY, "fairway", "WIDTH", "how wide the fairway is; 30 m if not given")            \
    X(OPTION_KEEP, "keep", "WHAT", "what all have in common, load or delivery; load if not given") \
    X(OPTION_MAPPING, "mapping", "FILE", "what the columns are, a mapping file (YAML)")            \
    X(OPTION_SET_ASIDE, "set-aside", "WHAT,...",                                                   \
      "set aside as well: mishit, outlier or FILE:LINE")                                           \
    X(OPTION_KEEP_SHOTS, "keep", "WHAT,...", "bring back: impossible, or FILE:LINE")               \
    X(OPTION_ONLY, "only", "NAME,...", "test only these outputs: fewer tests, milder correction")  \
    X(OPTION_ONLY_COLUMNS, "only", "NAME,...",                                                     \
      "print these columns, case by case, or these series")                                        \
    X(OPTION_WHERE, "where", "NAME=VALUE",                                                         \
      "only of such cases; LOW..HIGH too; repeat it to ask for more")                              \
    X(OPTION_BY, "by", "NAME,...", "print averages of the cases with the same values of these")    \
    X(OPTION_ONLY_OUTPUTS, "only", "NAME,...", "show only these outputs")                          \
    X(OPTION_RANKS, "ranks", NULL, "regress in ranks: how steadily an output rises or falls")      \
    X(OPTION_SPREAD, "spread", NULL,                                                               \
      "explain how the swings of a point scatter, in place of their mean")                         \
    X(OPTION_ADJUST, "adjust", "NAME,...",                                                         \
      "compare at the same of these, or none; speed and strike if not given")                      \
    X(OPTION_SIMULATED, "simulated", "SETUP,...",                                                  \
      "set the simulated scatter of a setup, or one a batch, beside them")                         \
    X(OPTION_CSV, "csv", "FILE.csv", "write all numbers as a table")                               \
    X(OPTION_PLOT, "plot", "FILE", "draw what is found as FILE.svg or FILE.png")                   \
    X(OPTION_UNCERTAINTY, "uncertainty", NULL,                                                     \
      "say how far the errors of the profile move each value")                                     \
    X(OPTION_DRAWS, "draws", "COUNT", "of how many draws from them; 400 if not given")             \
    X(OPTION_RESAMPLES, "draws", "COUNT", "of how many draws intervals are; 1000 if not given")    \
    X(OPTION_SEED, "seed", "NUMBER", "whose random numbers those are; 1 if not given")             \
    X(OPTION_THREADS, "threads", "COUNT", "how many share the work; no value depends on it")       \
    X(OPTION_PORT, "port", "NUMBER", "the port of 127.0.0.1; a free one if not given")             \
    X(OPTION_FOLDER, "folder", "DIR", "a folder of yours, in which the page keeps setups")         \
    X(OPTION_MODELS, "models", "DIR", "the folder of model files; ./models if not given")          \
    X(OPTION_OPEN, "open", NULL, "open the page in the browser")                                   \
    X(OPTION_GET, "get", "NAME,...", "print only these values, in their printed units")            \
    X(OPTION_JSON, "json", NULL, "print JSON")                                                     \
    X(OPTION_MAN, "man", NULL, "print the manual page caber-files(5) as scdoc source")             \
    X(OPTION_HELP, "help", NULL, "print this and exit")

typedef enum option_id {
#define OPTION_ENUM(symbol, name, argument, help) symbol,
    OPTION_LIST(OPTION_ENUM)
#undef OPTION_ENUM
        OPTION_COUNT
} option_id;

#define OPTION_BIT(id) (1ull << (id))

struct app_command;

/* What was given on a command line. The texts belong to argv. */
typedef struct options {
    const struct app_command *command;
    const char *text[OPTION_COUNT]; /* the last one given, "" for a switch, NULL when absent */
    const char **overrides;         /* every --set, in order; owned */
    size_t override_count;
    const char **conditions; /* every --where, likewise */
    size_t condition_count;
    char **operands;
    int operand_count;
} options;

/* Given a command and the words that follow "caber"; reads them into *out. Returns an app_exit:
 * 0, or 2 after saying what is wrong. *out is to be freed with options_free either way. */
int options_read(const struct app_command *command, int argc, char **argv, options *out);
void options_free(options *given);
/* Reads the whole number from `least` to `most` that was given as an option of that name into *value,
 * which stays when none was. Returns an app_exit: 0, or 1 after saying what is wrong. */
int options_read_count(const options *given, option_id id, int least, int most, int *value);
/* Prints the help of a command to standard output. */
void options_print_help(const struct app_command *command);

#endif
