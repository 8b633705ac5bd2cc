/* Every largest size in the program, each with its reason. Nothing grows without one of these. */
#ifndef GAINSIEVE_BASE_CEILINGS_H
#define GAINSIEVE_BASE_CEILINGS_H

/* A sentence for a person; two long paths must fit. */
#define CEILING_ERROR_TEXT 2048
/* A sweep file: 100,001 points of nine 24-character numbers are 22 MB; more is not a sweep. */
#define CEILING_SWEEP_FILE ((size_t)64 << 20)
/* Points of one sweep: analysers stop at 100,001 (common practice); three times as many are read.
 */
#define CEILING_SWEEP_POINTS ((size_t)300000)
/* A limits file is written by hand. */
#define CEILING_XML_FILE ((size_t)4 << 20)
/* One tag of it: the longest attribute is a list of every bias step, 4,224 characters. The file's
 * own depth is four, and it needs one namespace; some room for what editors add. */
#define CEILING_XML_TAG ((size_t)16 << 10)
#define CEILING_XML_DEPTH ((size_t)32)
#define CEILING_XML_NAMESPACES ((size_t)16)
/* An index of 100,000 units at 64 bias steps with 100-character paths would be 640 MB; refuse above
 * what a careful person still opens. */
#define CEILING_INDEX_FILE ((size_t)256 << 20)
/* Cells of a CSV row: nine for a sweep, with room for columns of the user's own. */
#define CEILING_CSV_CELLS ((size_t)256)
/* One CSV cell; a path is the longest thing that belongs in one. */
#define CEILING_CSV_CELL ((size_t)8192)
/* Sweep files of one archive. */
#define CEILING_ARCHIVE_FILES ((size_t)4000000)
/* Folders below an archive's root, and how deep they may lie. */
#define CEILING_ARCHIVE_FOLDERS ((size_t)1000000)
#define CEILING_ARCHIVE_DEPTH 32
/* A serial number: fits a label, and a file name after escaping (three bytes a byte). */
#define CEILING_SERIAL ((size_t)64)
/* Highest attempt of one serial number. */
#define CEILING_ATTEMPTS 9999UL
/* Bias steps of a limits file; a bias set of a limit is one 64-bit word's worth of flags. */
#define CEILING_BIAS_STEPS ((size_t)64)
/* Bands and limits of a limits file, corner points of a mask line. */
#define CEILING_BANDS ((size_t)256)
#define CEILING_LIMITS ((size_t)256)
#define CEILING_MASK_POINTS ((size_t)4096)
/* Identifiers, titles and advice in a limits file. */
#define CEILING_ID ((size_t)64)
#define CEILING_NOTE ((size_t)4096)
/* A reason in words: one limit's, or one unit's. */
#define CEILING_REASON ((size_t)4096)
/* What a sweep file says of itself on a unit's sheet. */
#define CEILING_COMMENTS ((size_t)480)
/* A page or a CSV file under construction. */
#define CEILING_OUTPUT ((size_t)1 << 30)
/* Worker threads. */
#define CEILING_JOBS 256UL
/* Points of a drawn line: two to every five units of a picture. */
#define CEILING_PLOT_POINTS ((size_t)160)
/* A profile: the longest wait in seconds that one may ask for (a slow sweep with averages), header
 * values before the numbers of an answer, and a text with its placeholders filled: 200 characters
 * of nothing but placeholders and a parameter's name of 200 more. */
#define CEILING_PROFILE_WAIT_S 600.0
#define CEILING_PROFILE_SKIP 1000UL
#define CEILING_PROFILE_MESSAGE ((size_t)4096)
/* Attempts in a batch record: as many as an archive may have files. */
#define CEILING_BATCH_ATTEMPTS CEILING_ARCHIVE_FILES
/* Changes of a batch's limits or of its reference unit: each takes a reason that somebody wrote. */
#define CEILING_BATCH_CHANGES ((size_t)10000)
/* What an audit says, a line each: who needs more has no batch left to mend. */
#define CEILING_AUDIT_LINES 1000UL
/* What the instruments say of themselves, kept beside each unit. */
#define CEILING_INSTRUMENTS ((size_t)4096)
/* The canonical text of an entry of a batch record: 256 findings and 64 sweeps, each with a reason.
 */
#define CEILING_CANONICAL ((size_t)4 << 20)
/* A message to an emulated instrument: the longest of the shipped profiles has 40 bytes. */
#define CEILING_EMULATOR_MESSAGE ((size_t)4096)
/* Answers of an emulated instrument that wait to be read. */
#define CEILING_EMULATOR_ANSWERS ((size_t)4096)
/* A port of an instrument: a path below /dev with its settings; a host name has at most 253
 * characters (RFC 1035, from memory). */
#define CEILING_PORT ((size_t)1024)
/* One reply of an instrument: both parts of 300,000 points as ASCII numbers of 26 characters are 16
 * MB. A number of 64 characters has more digits than any instrument has. */
#define CEILING_REPLY ((size_t)16 << 20)
#define CEILING_REPLY_NUMBER ((size_t)64)
/* Bits per second of a serial port: USB adapters reach 12 million (common practice). */
#define CEILING_BAUD 12000000UL

#endif
