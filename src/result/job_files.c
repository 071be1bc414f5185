/* The calendar as CSV and as iCalendar. */
#include <math.h>
#include <stdint.h>
#include <string.h>

#include "text.h"
#include "towerloop/upkeep.h"

/* --- CSV ------------------------------------------------------------------------------------------- */

#define DATE_LENGTH 10 /* of "2027-05-01" */

bool tl_jobs_write_csv(const struct tl_jobs *j, const struct tl_scenario *s, FILE *f)
{
    bool whole = true;
    fputs("time_iso,time_d,job,from,amount,unit,what,why\n", f);
    for (size_t i = 0; i < j->n; i++) {
        const struct tl_job *job = &j->job[i];
        const struct tl_job_words words = tl_job_words(s, job, TL_METRIC);
        const struct tl_date date = tl_date_at(&s->start, job->t_d);
        struct tl_text line = {0};
        char iso[32];
        tl_date_iso(&date, iso, sizeof iso);
        if (job->all_day)
            iso[DATE_LENGTH] = '\0';
        tl_text_addf(&line, "%s,%.6g,%s,%s,", iso, job->t_d, tl_job_word(job->kind),
                     tl_job_from_word(job->from));
        if (!isnan(job->amount))
            tl_text_addf(&line, "%.6g,%s,", job->amount, tl_dim_base_unit(tl_job_dim(job->kind)));
        else
            tl_text_add(&line, ",,");
        tl_text_add_cell(&line, words.what);
        tl_text_add(&line, ",");
        tl_text_add_cell(&line, words.why);
        fprintf(f, "%s\n", tl_text_string(&line));
        whole = whole && !line.failed;
        tl_text_free(&line);
    }
    return whole;
}

/* --- iCalendar (RFC 5545) -------------------------------------------------------------------------- */

#define MOST_OCTETS 75 /* of a line, without its end: section 3.1 */

/* A content line, folded between characters: what follows begins with a blank, which counts. */
static void write_folded(FILE *f, const char *line)
{
    size_t room = MOST_OCTETS;
    for (size_t left = strlen(line); left > 0;) {
        const size_t n = tl_utf8_cut(line, room);
        fprintf(f, "%s%.*s\r\n", room == MOST_OCTETS ? "" : " ", (int)n, line);
        line += n;
        left -= n;
        room = MOST_OCTETS - 1;
    }
}

/* TEXT of section 3.3.11. Control characters, which it does not allow, become blanks. */
static void add_escaped(struct tl_text *t, const char *s)
{
    for (; *s; s++) {
        if (*s == '\n')
            tl_text_add(t, "\\n");
        else if (strchr("\\;,", *s))
            tl_text_addf(t, "\\%c", *s);
        else
            tl_text_add_bytes(t, (unsigned char)*s < 0x20 || *s == 0x7f ? " " : s, 1);
    }
}

static bool write_text(FILE *f, const char *name, const char *text)
{
    struct tl_text line = {0};
    tl_text_addf(&line, "%s:", name);
    add_escaped(&line, text);
    write_folded(f, tl_text_string(&line));
    const bool whole = !line.failed;
    tl_text_free(&line);
    return whole;
}

#define FNV_BASIS 14695981039346656037u /* Fowler, Noll, Vo, 64 bits, variant 1a */
#define FNV_PRIME 1099511628211u

static uint64_t fold(uint64_t hash, const char *text)
{
    for (; *text; text++)
        hash = (hash ^ (unsigned char)*text) * FNV_PRIME;
    return hash;
}

static void write_date(FILE *f, const char *name, const struct tl_date *d)
{
    fprintf(f, "%s;VALUE=DATE:%04d%02d%02d\r\n", name, d->year, d->month, d->day);
}

static void write_time(FILE *f, const char *name, const struct tl_date *d, const char *zone)
{
    fprintf(f, "%s:%04d%02d%02dT%02d%02d%02d%s\r\n", name, d->year, d->month, d->day,
            d->second / 3600, d->second / 60 % 60, d->second % 60, zone);
}

/* What has to be minded at such a job; common practice, no source. */
static const char *caution(enum tl_job_kind kind)
{
    switch (kind) {
    case TL_JOB_EMPTY_CHAMBER:
    case TL_JOB_RINSE_TRAY:
    case TL_JOB_HOSE_TRAY:
    case TL_JOB_CLEAN_PUMP:
    case TL_JOB_HEATER:
    case TL_JOB_FROST:
        return "\nMains beside water: unplug first; for wiring ask a licensed electrician.";
    case TL_JOB_DOSE:
    case TL_JOB_DECHLORINATE:
        return "\nChemicals: read the label, wear gloves, dissolve first, watch the fish.";
    default:
        return "";
    }
}

static bool write_event(FILE *f, const struct tl_scenario *s, const struct tl_job *job,
                        size_t number)
{
    const struct tl_job_words words = tl_job_words(s, job, TL_METRIC);
    const struct tl_date date = tl_date_at(&s->start, job->t_d);
    const uint64_t scenario = fold(fold(FNV_BASIS, s->title ? s->title : ""), words.what);
    char text[512];

    fprintf(f, "BEGIN:VEVENT\r\n");
    tl_format(text, sizeof text, "%04d%02d%02d-%zu-%016llx@towerloop", date.year, date.month,
              date.day, number, (unsigned long long)scenario);
    bool whole = write_text(f, "UID", text);
    /* the run has no time of the day it was made, or the same run would give another file */
    write_time(f, "DTSTAMP", &(struct tl_date){s->start.year, s->start.month, s->start.day, 0},
               "Z");
    if (job->all_day) {
        write_date(f, "DTSTART", &date);
    } else {
        write_time(f, "DTSTART", &date, "");
        fprintf(f, "DURATION:PT15M\r\n");
    }
    tl_format(text, sizeof text, "%c%s",
              *words.what >= 'a' && *words.what <= 'z' ? *words.what - 'a' + 'A' : *words.what,
              words.what + 1);
    whole = write_text(f, "SUMMARY", text) && whole;
    tl_format(text, sizeof text, "Why: %s.%s", words.why, caution(job->kind));
    whole = write_text(f, "DESCRIPTION", text) && whole;
    fprintf(f, "TRANSP:TRANSPARENT\r\nEND:VEVENT\r\n");
    return whole;
}

bool tl_jobs_write_ics(const struct tl_jobs *j, const struct tl_scenario *s, FILE *f)
{
    bool whole = true;
    fprintf(f, "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//towerloop//upkeep calendar//EN\r\n"
               "CALSCALE:GREGORIAN\r\n");
    for (size_t i = 0; i < j->n; i++)
        whole = write_event(f, s, &j->job[i], i + 1) && whole;
    fprintf(f, "END:VCALENDAR\r\n");
    return whole;
}
