#include "reports/page_foot.h"

#include "drivers/base/memory.h"
#include "tests/page_check.h"

static char *foot_of(const struct measurement *reference)
{
    struct error e = {0};
    struct html *h = html_start("t", false, &e);
    struct text out = {0};

    assert_non_null(h);
    page_foot_write(h, reference);
    assert_done(html_finish(h, &out, &e), &e);
    html_free(h);
    page_check(out.data);
    return out.data;
}

/* The version is that of the program. */
static void test_version(void **state)
{
    char *page = foot_of(NULL);

    (void)state;
    assert_holds(page, "<footer><p>Written by gainsieve " GAINSIEVE_VERSION ".</p></footer>");
    memory_free(page);
}

/* The reference unit is known again by the digest of each sweep; one that could not be read has
 * none, and is told. */
static void test_reference(void **state)
{
    static const char digest[] = "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef";
    struct measurement m = {0};
    struct error e = {0};
    struct bias_sweep *low, *high;
    char want[256], *page;

    (void)state;
    measurement_reset(&m, "K<1>", 2);
    page = foot_of(&m);
    assert_holds(page, "<p>Reference unit of the phase limits: K&lt;1&gt;, attempt 2. SHA-256 of "
                       "its sweeps:</p><ul><li>no sweep</li></ul>");
    memory_free(page);
    low = measurement_add(&m, 1.8, &e);
    assert_non_null(low);
    memcpy(low->sha256, digest, sizeof digest);
    high = measurement_add(&m, 2.4, &e);
    assert_non_null(high);
    page = foot_of(&m);
    (void)snprintf(want, sizeof want,
                   "<ul><li>1.8 V <code>%s</code></li><li>2.4 V could not be read</li></ul>",
                   digest);
    assert_holds(page, want);
    memory_free(page);
    measurement_clear(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_version),
        cmocka_unit_test(test_reference),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
