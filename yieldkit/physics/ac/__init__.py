"""The AC side: conversion, limits, curtailment, derating, lead and network voltage."""
