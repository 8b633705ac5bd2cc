/* Texts of a profile taken apart into bytes and placeholders; for the profile's own files. */
#ifndef GAINSIEVE_PROFILE_TEXT_H
#define GAINSIEVE_PROFILE_TEXT_H

#include "drivers/profile.h"

/* Decimals that a format may ask for: picovolts and micro-hertz of a gigahertz. */
#define PROFILE_DECIMALS 12

enum profile_piece_kind {
    PIECE_END = 0,
    PIECE_BYTES,
    PIECE_VALUE,
    PIECE_PARAMETER,
    PIECE_CHANNEL,
};

enum profile_style {
    STYLE_PLAIN = 0, /* {name}: the fewest decimals that read back */
    STYLE_FIXED,     /* {name:.4f} */
    STYLE_WHOLE,     /* {name:d} */
};

struct profile_piece {
    enum profile_piece_kind kind;
    const char *bytes; /* of the text, borrowed; the placeholder's own for the others */
    size_t length;
    enum profile_value value;
    double divisor; /* 1 unless {name/1e6} */
    enum profile_style style;
    int decimals;
};

/* The piece that begins at `*at`; `*at` moves behind it. ERROR_INPUT, without file and line, for an
 * unknown placeholder or format, an exponent, a brace alone. */
bool profile_piece_next(const char **at, struct profile_piece *out, struct error *e) MUST_CHECK;

/* Which placeholders a text holds. */
struct profile_uses {
    unsigned values; /* bit 1 << enum profile_value */
    bool parameter, channel;
};

/* Adds those of `text` to `out`; ERROR_INPUT as above. */
bool profile_uses_add(struct profile_uses *out, const char *text, struct error *e) MUST_CHECK;

#endif
