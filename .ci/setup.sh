# Sourced by scenarios/demo and tests/run: what the project needs from Debian 12, named in one place.
# shellcheck shell=bash

# One row a package: its name, then a command that succeeds when the thing it brings is there.
# A machine that already has everything is left alone and needs no network.
build_packages=(
    'gcc                command -v gcc'
    'libc6-dev          test -e /usr/include/stdio.h'
    'meson              command -v meson'
    'ninja-build        command -v ninja'
    'pkg-config         command -v pkg-config'
    'python3            command -v python3'
    'libgsl-dev         pkg-config --exists gsl'
    'libyaml-dev        pkg-config --exists yaml-0.1'
    'libjansson-dev     pkg-config --exists jansson'
    'libcmocka-dev      pkg-config --exists cmocka'
    'gnuplot-nox        command -v gnuplot'
    'fonts-dejavu-core  test -e /usr/share/fonts/truetype/dejavu/DejaVuSans.ttf'
)
test_packages=(
    'locales             test -e /usr/share/i18n/locales/de_DE'
    'clang               command -v clang'
    'parallel            command -v parallel'
    'libsundials-dev     test -e /usr/include/cvode/cvode.h'
    'libclang-rt-14-dev  ls /usr/lib/llvm-*/lib/clang/*/lib/linux/libclang_rt.asan-*.a'
    'clang-format        command -v clang-format'
    'clang-tidy          command -v clang-tidy'
    'python3-yaml        test -e /usr/lib/python3/dist-packages/yaml'
    'python3-jsonschema  test -e /usr/lib/python3/dist-packages/jsonschema'
    'r-base-core         command -v Rscript'
    'mandoc              command -v mandoc'
    'strace              command -v strace'
    'cppcheck            command -v cppcheck'
    'gettext             command -v xgettext'
    'chromium            command -v chromium'
)

# Print the packages of the given rows that are missing.
missing_packages() {
    local row package check
    for row in "$@"; do
        read -r package check <<< "$row"
        # the check is left unquoted so that it splits into a command and its words
        $check > /dev/null 2>&1 || printf '%s ' "$package"
    done
}

# Install what is missing of the given rows, or say what to type and return 1.
install_missing() {
    local missing log as_root=()
    missing=$(missing_packages "$@")
    missing=${missing% }
    [[ -z $missing ]] && return 0

    local line="apt-get update && apt-get install -y --no-install-recommends $missing"
    if ! command -v apt-get > /dev/null; then
        echo "This script knows Debian's packages only. Install what stands for these, then try again:" >&2
        echo "    $missing" >&2
        return 1
    fi
    if [[ $(id -u) -ne 0 ]]; then
        # a password is asked for only where someone can type one
        if sudo -n true 2> /dev/null; then
            as_root=(sudo -n)
        elif [[ -t 0 && -t 2 ]] && command -v sudo > /dev/null; then
            as_root=(sudo)
        else
            echo "Some packages are missing. As root, type this line, then try again:" >&2
            echo "    $line" >&2
            return 1
        fi
    fi

    echo "Installing: $missing" >&2
    log=$(mktemp)
    # shellcheck disable=SC2086 # one word a package
    if ! { "${as_root[@]}" apt-get update -q &&
        "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive \
            apt-get install -y -q --no-install-recommends $missing; } < /dev/null > "$log" 2>&1; then
        tail -n 20 "$log" >&2
        echo "Installing failed (the whole log: $log). The line was, as root:" >&2
        echo "    $line" >&2
        return 1
    fi
    rm -f "$log"

    missing=$(missing_packages "$@")
    if [[ -n $missing ]]; then
        echo "Installed, yet still not found: $missing" >&2
        return 1
    fi
}

# Run a command quietly: its output is shown only when it fails.
quietly() {
    local log status=0
    log=$(mktemp)
    "$@" > "$log" 2>&1 || status=$?
    [[ $status -eq 0 ]] || cat "$log" >&2
    rm -f "$log"
    return $status
}

# configure BUILD-FOLDER [meson options]: make the build folder, or bring an old one up to date.
configure() {
    local folder=$1
    shift
    if [[ -e $folder/build.ninja ]] && meson setup --reconfigure "$folder" "$@" > /dev/null 2>&1; then
        return 0
    fi
    rm -rf "$folder"
    quietly meson setup "$folder" "$@"
}
