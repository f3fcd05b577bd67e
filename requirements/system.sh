#!/usr/bin/env bash
# Make sure that a command is there: installs its Debian package when root and possible, else names it and fails.
# Usage: requirements/system.sh COMMAND PACKAGE [PACKAGE ...]
set -euo pipefail
command_name=$1
shift
command -v "$command_name" >/dev/null && exit 0
if [ "$(id -u)" -ne 0 ] || ! command -v apt-get >/dev/null; then
  echo "The command '$command_name' is missing. Install Debian's package(s) $*: apt-get install $*" >&2
  exit 1
fi
export DEBIAN_FRONTEND=noninteractive
apt-get update -qq >/dev/null
apt-get install -y -qq --no-install-recommends "$@" >/dev/null
command -v "$command_name" >/dev/null
