/* What is made of an answer that was received whole. */
#include <math.h>
#include <regex.h>
#include <stdio.h>

#include "drivers/base/memory.h"
#include "drivers/base/number.h"
#include "drivers/instrument_exchange.h"

/* An ASCII number of a trace, with its separator: sign, 17 digits, point, exponent, blanks. */
#define LONGEST_NUMBER ((size_t)26)

bool answer_is_list(const struct profile_action *action)
{
    return action->answer == ANSWER_AXIS || action->answer == ANSWER_TRACE;
}

/* One for a point of an axis and of a single part, else two. */
size_t answer_numbers(const struct profile_action *action, const struct step_result *result)
{
    const bool single = action->answer == ANSWER_AXIS || action->layout == LAYOUT_REAL_ONLY ||
                        action->layout == LAYOUT_IMAGINARY_ONLY;

    return (single ? 1 : 2) * result->n;
}

size_t answer_bytes(const struct profile_action *action, const struct step_result *result)
{
    const size_t n = answer_numbers(action, result) + action->format.skip;

    switch (action->format.encoding) {
    case ENCODING_REAL32: return 4 * n;
    case ENCODING_REAL64: return 8 * n;
    case ENCODING_ASCII: break;
    }
    return LONGEST_NUMBER * n;
}

bool answer_check_text(struct instrument *i, const struct profile_action *action, struct error *e)
{
    char words[REPLY_SHOWN_TEXT + 512], shown[REPLY_SHOWN_TEXT];
    regex_t expression;
    int status;

    if (!action->match) return true;
    if (regcomp(&expression, action->match, REG_EXTENDED | REG_NOSUB) != 0)
        return exchange_located(i, action, ERROR_MEMORY,
                                "a regular expression could not be made ready: close other "
                                "programs and try again",
                                e);
    status = regexec(&expression, text_words(&i->reply), 0, NULL, 0);
    regfree(&expression);
    if (status == 0) return true;
    (void)snprintf(words, sizeof words, "it answered \"%s\", which does not fit \"%s\"",
                   reply_shown(i->reply.data, i->reply.length, shown), action->match);
    return exchange_located(i, action, ERROR_BENCH, words, e);
}

/* What the number must be: a literal or a placeholder. */
static bool find_wanted(const struct instrument *i, const struct profile_action *action,
                        const struct profile_values *values, double *wanted, struct error *e)
{
    struct text words = {0};
    struct error inner = {0};
    bool ok = profile_render(i->profile, action->equals, values, &words, &inner);

    if (!ok)
        (void)exchange_located(i, action, inner.kind, inner.text, e);
    else if (!number_parse(text_words(&words), wanted))
        ok = exchange_located(i, action, ERROR_BENCH, "what it must equal is no number", e);
    text_clear(&words);
    return ok;
}

bool answer_check_number(struct instrument *i, const struct profile_action *action,
                         const struct profile_values *values, struct step_result *result,
                         struct error *e)
{
    char words[512], shown[REPLY_SHOWN_TEXT], must[NUMBER_TEXT];
    struct error inner = {0};
    double number, wanted;

    if (!reply_number(i->reply.data, i->reply.length, &number, &inner))
        return exchange_fault(i, action, inner.kind, inner.text, e);
    number *= action->scale;
    if (!action->equals) {
        if (result) result->number = number;
        return true;
    }
    if (!find_wanted(i, action, values, &wanted, e)) return false;
    if (fabs(number - wanted) <= action->within) return true;
    (void)number_format(wanted, must);
    (void)snprintf(words, sizeof words,
                   "%.200s is answered with \"%s\" where it must be %s: the instrument is not in "
                   "the state that it was told or that is needed",
                   action->text, reply_shown(i->reply.data, i->reply.length, shown), must);
    return exchange_located(i, action, ERROR_BENCH, words, e);
}

/* Spreads received numbers over the parts that the answer holds. */
static void spread(const struct profile_action *action, const double *numbers,
                   struct step_result *result)
{
    const bool re_only = action->answer == ANSWER_AXIS || action->layout == LAYOUT_REAL_ONLY;
    const bool im_only = !re_only && action->layout == LAYOUT_IMAGINARY_ONLY;
    const size_t step = !re_only && action->layout == LAYOUT_INTERLEAVED ? 2 : 1;
    const size_t second = step == 2 ? 1 : result->n;

    for (size_t k = 0; k < result->n; k++) {
        const double first = action->scale * numbers[step * k];

        if (im_only)
            result->im[k] = first;
        else
            result->re[k] = first;
        if (!re_only && !im_only) result->im[k] = action->scale * numbers[step * k + second];
    }
    result->has_re = result->has_re || !im_only;
    result->has_im = result->has_im || !re_only;
}

bool answer_take_list(struct instrument *i, const struct profile_action *action,
                      struct step_result *result, struct error *e)
{
    const size_t n = answer_numbers(action, result);
    double *numbers = memory_make(n, sizeof *numbers, e);
    struct error inner = {0};
    size_t n_invalid = 0;
    bool ok;

    if (!numbers) return false;
    ok = reply_numbers(i->reply.data, i->reply.length, &action->format, numbers, n, &n_invalid,
                       &inner) ||
         exchange_fault(i, action, inner.kind, inner.text, e);
    if (ok) {
        spread(action, numbers, result);
        result->n_invalid += n_invalid;
    }
    memory_free(numbers);
    return ok;
}

bool answer_take_error(struct instrument *i, const struct profile_action *action, bool *empty,
                       struct reply_error *first, struct error *e)
{
    struct reply_error entry;
    struct error inner = {0};

    if (!reply_error_entry(i->reply.data, i->reply.length, &entry, &inner))
        return exchange_fault(i, action, inner.kind, inner.text, e);
    *empty = entry.number == 0;
    if (!*empty && first->number == 0) *first = entry;
    return true;
}
