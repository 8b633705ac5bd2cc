/* Between audit.c and audit_files.c only. */
#ifndef GAINSIEVE_AUDIT_PARTS_H
#define GAINSIEVE_AUDIT_PARTS_H

#include "runner/audit.h"
#include "runner/record_read.h"

/* Adds a fault, one line. */
void audit_fault(struct audit *audit, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Every file that the record names is there with its digest; every other file is known. */
bool audit_files(struct audit *audit, struct record_reader *r, struct error *e) MUST_CHECK;

#endif
