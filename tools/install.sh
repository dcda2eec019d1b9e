#!/usr/bin/env bash
# install.sh COMMAND:PACKAGE[,PACKAGE]...
# Installs the packages of those commands that this machine does not have; on Debian and its kin, as root or with sudo.
set -euo pipefail
PATH=$PATH:/usr/sbin # where Debian keeps some programs out of its users' sight

packages=()
for need in "$@"; do
	if ! command -v "${need%%:*}" >/dev/null; then
		IFS=, read -ra more <<<"${need#*:}"
		packages+=("${more[@]}")
	fi
done
if ((${#packages[@]} == 0)); then
	exit 0
fi

if ! command -v apt-get >/dev/null; then
	echo "install.sh: this machine has no apt-get; install by hand what stands for: ${packages[*]}" >&2
	exit 1
fi
as_root=()
if (($(id -u) != 0)); then
	as_root=(sudo)
fi
apt() {
	"${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get -qq -o Acquire::Retries=3 "$@"
}
echo "installing ${packages[*]}"
apt update
apt install -y --no-install-recommends "${packages[@]}"
