/* For tests of replies: bytes in blocks of exactly their size, so that reading past them is found.
 */
#ifndef GAINSIEVE_TESTS_REPLY_CHECK_H
#define GAINSIEVE_TESTS_REPLY_CHECK_H

#include "drivers/base/memory.h"
#include "drivers/reply.h"
#include "tests/check.h"

/* A literal with NULs inside and its length. */
#define BYTES(literal) (literal), (sizeof(literal) - 1)

static inline char *exact_copy(const char *bytes, size_t n)
{
    struct error e = {0};
    char *copy = memory_make(n, 1, &e);

    assert_non_null(copy);
    memcpy(copy, bytes, n);
    return copy;
}

/* reply_frame() on a copy; a size is never beyond what came, and comes without an error. */
static inline size_t frame_of(const struct reply_frame *how, const char *bytes, size_t n,
                              bool ended, struct error *e)
{
    struct reply_frame frame = *how;
    char *copy = exact_copy(bytes, n);
    size_t length;

    *e = (struct error){0};
    length = reply_frame(&frame, copy, n, ended, e);
    memory_free(copy);
    assert_true(length <= n);
    assert_true(length == 0 || e->kind == ERROR_NONE);
    assert_true(e->kind == ERROR_NONE || e->kind == ERROR_BENCH);
    return length;
}

static inline void check_frame(const struct reply_frame *how, const char *bytes, size_t n,
                               bool ended, size_t want, const char *file, int line)
{
    struct error e;
    const size_t got = frame_of(how, bytes, n, ended, &e);

    if (e.kind != ERROR_NONE) print_error("%s\n", e.text);
    _assert_int_equal(e.kind, ERROR_NONE, file, line);
    _assert_int_equal(got, want, file, line);
}
/* The frame of the literal has `want` bytes; 0: more must come. */
#define assert_frame(how, literal, ended, want) \
    check_frame(how, BYTES(literal), ended, want, __FILE__, __LINE__)

static inline void check_no_frame(const struct reply_frame *how, const char *bytes, size_t n,
                                  bool ended, const char *words, const char *file, int line)
{
    struct error e;
    const size_t got = frame_of(how, bytes, n, ended, &e);

    _assert_int_equal(got, 0, file, line);
    _assert_int_equal(e.kind, ERROR_BENCH, file, line);
    check_holds(e.text, words, file, line);
}
/* The literal can never become a frame, and the error holds `words`. */
#define assert_no_frame(how, literal, ended, words) \
    check_no_frame(how, BYTES(literal), ended, words, __FILE__, __LINE__)

#endif
