# Completion of towerloop for bash. Commands and options are asked from the program's own help, so they
# are always those of the program that is being typed.
# shellcheck shell=bash

# Long options of `$1 $2 --help`, or of all commands' help when $2 is empty.
_towerloop_options() {
    "$1" ${2:+"$2"} --help 2> /dev/null | sed -n 's/^  \(-[a-z], \|    \)\(--[a-z-]*\).*/\2/p'
}

_towerloop_commands() {
    "$1" --help 2> /dev/null | sed -n '/^commands:/,/^$/s/^  \([a-z]*\) .*/\1/p'
}

# What `$1 $2 --help` says stands behind the options: FILE, DIR, WORD or nothing.
_towerloop_usage() {
    "$1" "$2" --help 2> /dev/null | sed -n 's/^usage: .*\[OPTION\]\.\.\. *//p'
}

_towerloop_lessons() {
    "$1" lesson 2> /dev/null | sed -n 's/^  \([a-z]*\) .*/\1/p'
}

# Offer those of the words that begin as $1 does.
_towerloop_words() {
    mapfile -t COMPREPLY < <(compgen -W "$2" -- "$1")
}

# Offer folders, and files with one of the endings that follow.
_towerloop_files() {
    local word=$1 ending
    shift
    compopt -o filenames 2> /dev/null
    mapfile -t COMPREPLY < <(
        compgen -d -- "$word"
        for ending in "$@"; do compgen -f -X "!*.$ending" -- "$word"; done
    )
}

# A list joined by commas: the words already there stay in front of each offer.
_towerloop_list() {
    local word=$1 front=
    if [[ $word == *,* ]]; then
        front=${word%,*},
        word=${word##*,}
    fi
    mapfile -t COMPREPLY < <(compgen -P "$front" -W "$2" -- "$word")
}

_towerloop() {
    local program=$1 word=$2 before=$3 command=
    # bash makes --set=x three words, the second being the sign
    if [[ $word == '=' ]]; then
        word=
    elif [[ $before == '=' && $COMP_CWORD -ge 2 ]]; then
        before=${COMP_WORDS[COMP_CWORD - 2]}
    fi
    COMPREPLY=()
    [[ $COMP_CWORD -gt 1 ]] && command=${COMP_WORDS[1]}

    case $command:$before in
    :*)
        _towerloop_words "$word" "$(_towerloop_commands "$program") --help --version"
        return
        ;;
    *:--units) _towerloop_words "$word" 'metric us' && return ;;
    *:--fail-on) _towerloop_words "$word" 'caution danger' && return ;;
    *:--format) _towerloop_list "$word" 'png svg pdf' && return ;;
    *:--fails) _towerloop_words "$word" 'power pump aerator half' && return ;;
    *:--level) _towerloop_words "$word" 'scalar baseline avx2 avx512' && return ;;
    *:--inputs) _towerloop_words "$word" 'own published' && return ;;
    *:--runs | *:--seed | *:--shard | *:--uncertain) return ;;
    *:--set | *:--vary | *:--rtol) return ;;
    *:--answer) _towerloop_words "$word" '1 2 3 4 5' && return ;;
    *:--html) _towerloop_files "$word" html && return ;;
    *:--least | *:--most | *:--margin) return ;;
    *:--fit | *:--hold-back | *:--forecast) return ;;
    *:--day | *:--outage | *:--at | *:--aerator | *:--battery | *:--watts | *:--efficiency | *:--threads) return ;;
    *:--out | *:-o | *:--spread) _towerloop_files "$word" && return ;;
    esac
    if [[ $word == -* ]]; then
        _towerloop_words "$word" "$(_towerloop_options "$program" "$command")"
        return
    fi
    case $(_towerloop_usage "$program" "$command") in
    *FILE*) _towerloop_files "$word" yaml yml csv ;;
    *DIR*) _towerloop_files "$word" ;;
    *NAME*) _towerloop_words "$word" "$(_towerloop_lessons "$program")" ;;
    esac
}

complete -F _towerloop towerloop
