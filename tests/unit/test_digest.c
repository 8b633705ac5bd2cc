/* The digest against published values: a file is filed under it for years. */
#include "drivers/base/digest.h"
#include "tests/check.h"

/* Reason: examples of FIPS 180-4's algorithm as NIST publishes them (SHA256.pdf, from memory). */
static void test_examples(void **state)
{
    char hex[DIGEST_HEX];

    (void)state;
    digest_hex("abc", 3, hex);
    assert_string_equal(hex, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    digest_hex("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq", 56, hex);
    assert_string_equal(hex, "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    digest_hex("", 0, hex);
    assert_string_equal(hex, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

/* Reason: the same digest in the form of a content policy; value of `printf abc | openssl dgst
 * -sha256 -binary | base64`. */
static void test_base64(void **state)
{
    char base64[DIGEST_BASE64];

    (void)state;
    digest_base64("abc", 3, base64);
    assert_string_equal(base64, "ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0=");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_examples),
        cmocka_unit_test(test_base64),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
