/* The file being read: between the touchstone_*.c files only. */
#ifndef GAINSIEVE_TOUCHSTONE_SCAN_H
#define GAINSIEVE_TOUCHSTONE_SCAN_H

#include "drivers/network.h"
#include "drivers/sweep.h"

enum value_format { FORMAT_MA = 0, FORMAT_DB, FORMAT_RI };

/* How the numbers of a file become a sweep. */
struct touchstone_options {
    int frequency_shift; /* power of ten that takes the file's unit to Hz */
    enum network_kind kind;
    enum value_format format;
    double resistance_ohm[2]; /* behind R, or 50 */
    unsigned n_resistances;   /* how many stood there; 0 none */
};

struct touchstone_file {
    const char *path;
    const char *begin; /* of the line */
    const char *at, *end;
    unsigned long line;
    struct sweep *out;
    struct error *e;
    struct touchstone_options options;
    unsigned n_ports;
    unsigned name_ports; /* that the file name's ending tells; 0: it does not */
    bool order_12_21;    /* 12 before 21 */
    bool triangle;       /* only 11, 21, 22 are written */
    bool normalised;     /* Y, Z, G, H are relative to the resistance: version 1 */
    double reference_ohm[2];
};

/* ERROR_INPUT "FILE:LINE: ..."; returns false. */
bool scan_fault(struct touchstone_file *f, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Skips blanks; true at the end of what the line says: its end, a comment, or the file's end. */
static inline bool scan_line_is_over(struct touchstone_file *f)
{
    while (f->at < f->end && (*f->at == ' ' || *f->at == '\t'))
        f->at++;
    return f->at == f->end || *f->at == '!' || *f->at == '\n' || *f->at == '\r';
}

/* Goes to the next line, whatever is left of this one: for comments, which may hold anything. */
void scan_next_line(struct touchstone_file *f);

/* Goes to the next line over words that are not used; they must be ASCII, as all but comments. */
bool scan_skip_words(struct touchstone_file *f);

/* Skips blanks, comments and line ends; false at the end of the file. */
bool scan_to_content(struct touchstone_file *f);

/* Reads the number at hand, times ten to the power `shift`; a blank, a comment or a line end must
 * follow. */
bool scan_number(struct touchstone_file *f, int shift, double *out);

/* The word at hand, up to a blank, comment or line end; moves behind it. */
struct scan_word {
    const char *at;
    size_t length;
};
struct scan_word scan_take_word(struct touchstone_file *f);
bool scan_word_is(struct scan_word word, const char *name);

/* Words on the rest of the line; does not move. */
size_t scan_count_words(struct touchstone_file *f);

/* Reads the option line at hand, behind its '#'. */
bool touchstone_read_options(struct touchstone_file *f);

/* Numbers that belong to one frequency, the frequency included. */
size_t touchstone_row_length(const struct touchstone_file *f);

/* Fails, at the line at hand, unless the frequency is above the one before it. */
bool touchstone_check_frequency(struct touchstone_file *f, double frequency_hz);

/* Adds one point at a frequency that was checked; `numbers` are those behind the frequency, in the
 * file's order and format. */
bool touchstone_add_point(struct touchstone_file *f, double frequency_hz, const double *numbers);

/* Reads a version 2 file from behind the word [Version]. */
bool touchstone_read_version2(struct touchstone_file *f);

#endif
