#!/usr/bin/env bash
# The suite on another Python, for contributors on Debian or a kin of it, as root: a small newer
# Debian is set up in a folder of its own and entered with chroot. Nothing outside the folder changes.
#
#   tests/other_pythons.sh trixie /var/tmp/soapbench-trixie      Python 3.13
#   tests/other_pythons.sh sid    /var/tmp/soapbench-sid         whatever sid has, 3.14 in 2026
#
# Needs debootstrap. What follows the folder goes to pytest.
set -euo pipefail
suite=$1 folder=$2
shift 2
here=$(cd "$(dirname "$0")/.." && pwd)
mirror=${MIRROR:-http://deb.debian.org/debian}

if [ ! -e "$folder/usr/bin/python3" ]; then
    debootstrap --variant=minbase --include=python3,python3-venv,git,ca-certificates,gcc,libc6-dev,python3-dev \
        "$suite" "$folder" "$mirror"
fi
cp /etc/resolv.conf "$folder/etc/resolv.conf"
mkdir -p "$folder/etc/ssl/certs"
cp -L /etc/ssl/certs/ca-certificates.crt "$folder/etc/ssl/certs/ca-certificates.crt"
for each in /etc/pip.conf; do [ ! -e $each ] || cp $each "$folder$each"; done
rm -rf "$folder/soapbench"
git -C "$here" clone -q "$here" "$folder/soapbench"

mounted=()
leave() { for each in "${mounted[@]}"; do umount "$each"; done; }
trap leave EXIT
for each in proc dev dev/pts; do
    mount --bind "/$each" "$folder/$each"
    mounted=("$folder/$each" "${mounted[@]}")
done
chroot "$folder" env -i PATH=/usr/bin:/bin HOME=/root LANG=C.UTF-8 TERM=xterm-256color CI=true \
    bash -ec '
        cd /soapbench
        python3 --version
        python3 -m venv /venv
        # No lock here: the newest releases that the bounds allow are what is to be shown.
        /venv/bin/pip install -q --upgrade -e ".[test,browser,build]"
        /venv/bin/python -m pytest "$@"
    ' pytest "$@"
