#include "comma.h"

#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char definition[] =
    "LC_NUMERIC\ndecimal_point \",\"\nthousands_sep \".\"\ngrouping 3;3\nEND LC_NUMERIC\n";

static bool writes_comma(void)
{
    char text[16];
    snprintf(text, sizeof text, "%.1f", 1.5);
    return strcmp(text, "1,5") == 0;
}

bool comma_locale_set(void)
{
    char folder[] = "/tmp/towerloop-locale-XXXXXX";
    char path[64];
    char command[256];
    if (!mkdtemp(folder))
        return false;
    snprintf(path, sizeof path, "%s/source", folder);
    FILE *f = fopen(path, "w");
    if (!f)
        return false;
    fputs(definition, f);
    fclose(f);
    /* it leaves out the other categories and says so by its exit status, so look at what it does */
    snprintf(command, sizeof command, "localedef -c -i %s %s/xx_XX >%s/log 2>&1", path, folder,
             folder);
    int status = system(command);
    (void)status;
    setenv("LOCPATH", folder, 1);
    bool set = setlocale(LC_ALL, "xx_XX") && writes_comma();
    unsetenv("LOCPATH");
    snprintf(command, sizeof command, "rm -r %s", folder);
    status = system(command);
    return set;
}

void comma_locale_reset(void)
{
    setlocale(LC_ALL, "C");
}
